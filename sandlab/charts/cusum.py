"""The tabular cumulative sum chart: small lasting shifts, with the point at which each may have begun."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import FLAG_WORDS, Limits
from sandlab.charts.estimates import as_series
from sandlab.charts.normal import Floats
from sandlab.errors import InputError, Problem

Counts = npt.NDArray[np.intp]

# One running sum over more values would lose digits.
_BLOCK = 10_000


@dataclass(frozen=True, slots=True, eq=False)
class CusumChart:
    """Both sums per slot, in sigmas, and the tests each has run since it was last 0.

    `high` and `low` are the places of measured tests at which the upper or the lower sum is past the decision
    interval. In the slot of a missing test the sums stay as they were.
    """

    values: Floats
    upper: Floats
    lower: Floats
    upper_running: Counts
    lower_running: Counts
    reference: float
    decision: float
    high: tuple[int, ...]
    low: tuple[int, ...]


def cusum(
    values: npt.ArrayLike,
    limits: Limits,
    *,
    reference: float = 0.5,
    decision: float = 4.77,
    head_start: float = 0.0,
) -> CusumChart:
    """Two-sided tabular CUSUM of `values` around the frozen centre.

    ``upper S_t = max(0, S_t-1 + y_t - k), lower S_t = max(0, S_t-1 - y_t - k), y = (x - centre)/sigma``
    ``S_t = C_t - min(0, C_1 ... C_t), C_t = S_0 + sum(y - k)``; a signal when S_t > h

    values: one per slot, NaN where missing [unit of the property]
    limits: frozen baseline, of which centre and sigma are used [unit of the property]
    reference: k, half the shift to be found, in sigmas, 0 or more [1]
    decision: h, in sigmas, above 0; `cusum_decision` finds it for a run length [1]
    head_start: first value of both sums, in sigmas, 0 to below h; h/2 for fast initial response [1]
    returns: both sums per slot in sigmas, the tests each has run, and where it is past h [1]

    Shapes: one row of values.
    Validity: independent tests; the default pair then alarms falsely once in 370. Autocorrelated tests alarm
    more often.
    Errors: InputError for settings out of range, infinite values, limits of a constant baseline.
    Example:
    >>> chart = cusum([325.35, 325.225, 328.325], Limits(325.0, 1.0, 99, 1.0, 1.0, 0.0), reference=0.3175)
    >>> chart.upper.round(4).tolist()
    [0.0325, 0.0, 3.0075]

    Source: nist_handbook, 6.3.2.3; head start: lucas_crosier1982.
    """
    _check(limits, reference, decision, head_start)
    series = as_series(values)
    measured = ~np.isnan(series)
    # Slot -> measured tests so far; 0 is the start.
    count = np.cumsum(measured)
    distances = (series[measured] - limits.centre) / limits.sigma
    upper = running_sum(distances - reference, head_start)
    lower = running_sum(-distances - reference, head_start)
    upper_running, lower_running = since_zero(upper), since_zero(lower)
    return CusumChart(
        values=series,
        upper=upper[count],
        lower=lower[count],
        upper_running=upper_running[count],
        lower_running=lower_running[count],
        reference=reference,
        decision=decision,
        high=_past(upper[count], decision, measured),
        low=_past(lower[count], decision, measured),
    )


def running_sum(steps: Floats, start: float) -> Floats:
    """The sum that is never let below 0: its start, and its value after each step."""
    sums = np.empty(steps.size + 1)
    sums[0] = start
    for first in range(0, steps.size, _BLOCK):
        total = sums[first] + np.cumsum(steps[first : first + _BLOCK])
        lowest = np.minimum(np.minimum.accumulate(total), 0.0)
        sums[first + 1 : first + 1 + total.size] = total - lowest
    return sums


def since_zero(sums: Floats) -> Counts:
    """How many steps each value lies after the last 0, or after the start."""
    places = np.arange(sums.size)
    return places - np.maximum.accumulate(np.where(sums == 0.0, places, 0))


def _past(sums: Floats, decision: float, measured: npt.NDArray[np.bool_]) -> tuple[int, ...]:
    return tuple(np.flatnonzero(measured & (sums > decision)).tolist())


def _check(limits: Limits, reference: float, decision: float, head_start: float) -> None:
    problems = []
    if not limits.usable:
        problems.append(Problem("limits", FLAG_WORDS["constant"], "freeze a baseline whose values vary"))
    if not 0.0 <= reference < math.inf:
        problems.append(Problem("reference value", f"{reference}", "give 0 or more, often 0.5"))
    if not 0.0 < decision < math.inf:
        problems.append(Problem("decision interval", f"{decision}", "give a value above 0, often 4.77"))
    elif not 0.0 <= head_start < decision:
        problems.append(Problem("head start", f"{head_start}", "give 0, or half the decision interval"))
    if problems:
        raise InputError(problems)
