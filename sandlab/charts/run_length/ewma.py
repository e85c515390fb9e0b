"""Average run length of the exponentially weighted moving average chart, and its design."""

from __future__ import annotations

import math

import numpy as np

from sandlab.charts.normal import Floats, density, nodes_between
from sandlab.charts.run_length.design import solve_limit
from sandlab.errors import InputError, Problem

WIDTHS = (0.1, 8.0)
WEIGHTS = (0.005, 1.0)


def ewma_run_length(
    weight: float, width: float, *, shift: float = 0.0, start: float = 0.0, steady_limits: bool = False
) -> float:
    """Mean number of independent normal tests until an EWMA leaves its limits.

    ``L(z) = 1 + integral over |u| < h of n((u - (1 - w) z)/w - shift)/w L(u) du, h = width sqrt(w/(2 - w))``

    Solved at Gauss-Legendre nodes. Exact limits h sqrt(1 - (1 - w)^2t) are narrower at first: the density of
    the EWMA is carried along them until they are steady.

    weight: w of the newest test, 0.005 to 1 [1]
    width: of the limits in sigmas of the average, 0.1 to 8 [1]
    shift: of the mean, in sigmas of a test [1]
    start: first value of the average, in sigmas of a test [1]
    steady_limits: as wide from the start as in the long run [yes or no]
    returns: average run length [tests]

    Shapes: scalars.
    Validity: known centre and sigma, independent normal tests.
    Errors: InputError outside those ranges.
    Example:
    >>> round(ewma_run_length(0.05, 2.0, shift=1.0, steady_limits=True), 2)
    8.38

    Source: crowder1987, Table 1; lucas_saccucci1990, Table 3.
    """
    check_ewma(weight, width, start)
    limit = width * math.sqrt(weight / (2.0 - weight))
    moves = moves_of_average(weight, limit, shift)
    lengths = np.linalg.solve(np.eye(moves.shape[0]) - moves, np.ones(moves.shape[0]))
    early, carried = start_up(weight, limit, shift, start, moves.shape[0], steady_limits=steady_limits)
    return 1.0 + sum(early[:-1]) + float(carried @ lengths)


def ewma_width(weight: float, run_length: float, *, steady_limits: bool = False) -> float:
    """Width of the limits that makes an EWMA alarm once in `run_length` tests when nothing is wrong.

    ``root of log(L(width)/run_length)``, bracketed from below

    weight: of the newest test, 0.005 to 1 [1]
    run_length: wanted between false alarms, 2 to 1000000 [tests]
    steady_limits: as wide from the start as in the long run [yes or no]
    returns: width in sigmas of the average [1]

    Shapes: scalars.
    Validity: as for `ewma_run_length`.
    Errors: InputError outside those ranges.
    Example:
    >>> round(ewma_width(0.05, 250.0, steady_limits=True), 2)
    2.32

    Source: crowder1989, design tables.
    """
    check_ewma(weight, 1.0, 0.0)

    def steady(width: float) -> float:
        return ewma_run_length(weight, width, steady_limits=True)

    width = solve_limit(steady, run_length, first=WIDTHS[0], step=0.5, last=WIDTHS[1])
    if steady_limits:
        return width
    # Limits that start narrow alarm sooner: the exact width lies a little above, along nearly the same slope.
    slope = math.log(steady(width + 1e-3) / run_length) / 1e-3
    missing = math.log(run_length / ewma_run_length(weight, width))
    for _ in range(20):
        if abs(missing) < 1e-9:
            break
        step = missing / slope
        width += step
        before, missing = missing, math.log(run_length / ewma_run_length(weight, width))
        slope = (before - missing) / step
    return width


def _move(before: Floats, after: Floats, weight: float, shift: float) -> Floats:
    """Density of the next EWMA at `after` (columns) from the present one at `before` (rows)."""
    return density((after[None, :] - (1.0 - weight) * before[:, None]) / weight - shift) / weight


def moves_of_average(weight: float, limit: float, shift: float) -> Floats:
    """Where one test leads from each node between steady limits."""
    # Two nodes per standard deviation of one step leave errors below 1e-8.
    nodes, weights = nodes_between(-limit, limit, max(32, math.ceil(4.0 * limit / weight)))
    return _move(nodes, nodes, weight, shift) * weights


def start_up(
    weight: float, limit: float, shift: float, start: float, count: int, *, steady_limits: bool
) -> tuple[list[float], Floats]:
    """Shares of runs left after each test until the limits are steady, and where the last test led."""
    shrink, early = 0.0 if steady_limits else 1.0, []
    before, carried = np.array([start]), np.array([1.0])
    while True:
        shrink *= (1.0 - weight) ** 2
        reach = limit * math.sqrt(1.0 - shrink)
        after, weights = nodes_between(-reach, reach, count)
        carried = (carried @ _move(before, after, weight, shift)) * weights
        early.append(float(carried.sum()))
        if shrink < 1e-12:
            return early, carried
        before = after


def check_ewma(weight: float, width: float, start: float) -> None:
    """Raise for settings out of range, all at once."""
    problems = []
    if not WEIGHTS[0] <= weight <= WEIGHTS[1]:
        problems.append(Problem("weight", f"{weight}", f"give a value from {WEIGHTS[0]} to {WEIGHTS[1]}"))
    if not WIDTHS[0] <= width <= WIDTHS[1]:
        problems.append(Problem("width", f"{width}", f"give a value from {WIDTHS[0]} to {WIDTHS[1]}"))
    if not math.isfinite(start):
        problems.append(Problem("start", f"{start}", "give a finite value, usually 0"))
    if problems:
        raise InputError(problems)
