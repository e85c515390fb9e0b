"""Finds the limit of a chart that gives a wanted run length."""

from __future__ import annotations

import math
from collections.abc import Callable

from sandlab.errors import impossible

# Above 1e6 tests between false alarms nobody can tell the difference, and the equations lose digits.
RUN_LENGTHS = (2.0, 1e6)
_NEVER = 1e15


def solve_limit(
    length: Callable[[float], float], run_length: float, *, first: float, step: float, last: float
) -> float:
    """The limit at which the increasing function `length` equals `run_length`.

    Steps up from `first`, at most to `last`, until the wanted length is bracketed, so that no length far
    above it is ever asked for (there the equations become singular), then Brent's method on the logarithm
    of the ratio.
    """
    # Imported here: drawing a chart needs no scipy.
    from scipy.optimize import brentq

    if not RUN_LENGTHS[0] <= run_length <= RUN_LENGTHS[1]:
        low, high = RUN_LENGTHS
        raise impossible("run length", f"{run_length} tests", f"give a number from {low:g} to {high:g}")

    def excess(limit: float) -> float:
        found = length(limit)
        # A chart that never alarms has no equation left to solve.
        return math.log((found if 0.0 < found < _NEVER else _NEVER) / run_length)

    low = high = first
    while excess(high) < 0.0:
        if high >= last:
            what = f"no limit up to {last:g} gives {run_length:g} tests"
            raise impossible("run length", what, f"give less than {length(last):.0f}")
        low, high = high, min(high + step, last)
    if low == high:
        what = f"{run_length:g} tests are fewer than any limit gives"
        raise impossible("run length", what, f"give more than {run_length * math.exp(excess(first)):.1f}")
    return float(brentq(excess, low, high, xtol=1e-10, rtol=1e-12))
