"""When a change began and how large it is: a step or a ramp, with the set of places it may have begun."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import FLAG_WORDS, Limits
from sandlab.charts.estimates import as_series
from sandlab.charts.normal import Floats
from sandlab.errors import InputError, Problem, impossible

Shape = Literal["step", "ramp"]

# Log-likelihood below the best at which a start is still believed: covers 82 to 96 % of steps of 0.5 to 2
# sigmas in simulation, where 2 covers 69 to 90 %.
DEPTH = 3.0


@dataclass(frozen=True, slots=True)
class Change:
    """One shape of change: the first changed test, the places it may have begun, its size, its support.

    `size` is the shift of the mean for a step and the slope per slot for a ramp, in the property's unit;
    `support` is the gain in log-likelihood over no change. Slopes found just after a point beyond a limit
    are a quarter to a third too steep in the median of simulations.
    """

    shape: Shape
    start: int
    may_begin: tuple[int, ...]
    size: float
    support: float


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """Both shapes of change; `best` is the better supported one."""

    step: Change
    ramp: Change

    @property
    def best(self) -> Change:
        """The shape with the larger likelihood."""
        return self.ramp if self.ramp.support > self.step.support else self.step


def change_point(values: npt.ArrayLike, limits: Limits, *, depth: float = DEPTH) -> ChangePoint:
    """Maximum-likelihood start of a change that lasts to the last value, from the frozen centre.

    ``step g(t) = (sum r)^2/n; ramp g(t) = (sum (i - t) r_i)^2 / sum (i - t)^2``, n tests after slot t
    ``r = x - centre; support = g/(2 sigma^2); may begin: g_max - g(t) <= 2 depth sigma^2``

    values: one per slot up to the present, NaN where missing [unit of the property]
    limits: frozen baseline, of which centre and sigma are used [unit of the property]
    depth: of the confidence set in log-likelihood, above 0 [1]
    returns: start, confidence set, size and support of the best step and ramp [unit of the property]

    Shapes: one row with a measured value; linear in its length, by sums from the end.
    Validity: independent tests of known centre and sigma; autocorrelation makes the set too small.
    Errors: InputError for no measured value, infinite ones, a depth of 0 or less, a constant baseline.
    Example:
    >>> change = change_point([0.1, -0.1, 0.0, 2.0, 2.1], Limits(0.0, 1.0, 99, 1.0, 1.0, 0.0)).step
    >>> change.start, round(change.size, 2)
    (3, 2.05)

    Source: samuel1998, equation of the step; perry2006 for the ramp.
    """
    _check(limits, depth)
    series = as_series(values)
    measured = ~np.isnan(series)
    if not measured.any():
        raise impossible("values", "no test measured", "give at least one")
    r = np.where(measured, series - limits.centre, 0.0)
    # back: slots from the end, so that (i - t) = (start's back + 1) - back of i stays small near the end.
    back = np.arange(series.size)[::-1].astype(np.float64)
    n, sum_r = _suffix(measured.astype(np.float64)), _suffix(r)
    sum_b, sum_bb, sum_br = _suffix(measured * back), _suffix(measured * back * back), _suffix(back * r)
    reach = back + 1.0
    step = _best("step", sum_r, n, measured, limits, depth)
    ramp_squares = n * reach * reach - 2.0 * reach * sum_b + sum_bb
    ramp = _best("ramp", reach * sum_r - sum_br, ramp_squares, measured, limits, depth)
    return ChangePoint(step, ramp)


def split_point(values: npt.ArrayLike) -> Change:
    """Where a series of unknown level is best split into two levels.

    ``g(t) = t (n - t)/n (m2 - m1)^2``, largest at the split; sigma from the two parts together

    values: one per slot, NaN where missing [unit of the property]
    returns: first test of the new level, its confidence set, the shift and its support [unit of the property]

    Shapes: one row of four or more measured values.
    Validity: independent tests of one spread; any series has a best split: judge its support.
    Errors: InputError for fewer values, infinite ones, no spread around the two levels.
    Example:
    >>> change = split_point([1.0, 1.2, 0.9, 1.1, 3.0, 3.2, 2.9])
    >>> change.start, round(change.size, 3)
    (4, 1.983)

    Source: cobb1978, annual flow of the Nile.
    """
    series = as_series(values)
    places = np.flatnonzero(~np.isnan(series))
    measured = series[places]
    if measured.size < 4:
        raise impossible("values", f"{measured.size} measured", "a split needs four or more")
    residuals = measured - measured.mean()
    before = np.arange(1, measured.size)
    after = measured.size - before
    sums = np.cumsum(residuals)[:-1]
    gains = sums**2 * measured.size / (before * after)
    best = int(np.argmax(gains))
    size = float(-sums[best] / before[best] - sums[best] / after[best])
    variance = (float(residuals @ residuals) - float(gains[best])) / (measured.size - 2)
    if variance <= 0.0:
        raise impossible("values", "no spread around the two levels", "give values that vary")
    starts = places[1:][gains[best] - gains <= 2.0 * DEPTH * variance]
    support = float(gains[best]) / (2.0 * variance)
    return Change("step", int(places[best + 1]), tuple(starts.tolist()), size, support)


def _suffix(values: Floats) -> Floats:
    """Sum from each place to the end."""
    return np.cumsum(values[::-1])[::-1]


def _best(
    shape: Shape, sums: Floats, squares: Floats, measured: npt.NDArray[np.bool_], limits: Limits, depth: float
) -> Change:
    """The start of largest gain among the measured tests."""
    starts = np.flatnonzero(measured)
    gains = sums[starts] ** 2 / squares[starts]
    best = int(np.argmax(gains))
    believed = starts[gains[best] - gains <= 2.0 * depth * limits.sigma**2]
    start = int(starts[best])
    return Change(
        shape=shape,
        start=start,
        may_begin=tuple(believed.tolist()),
        size=float(sums[start] / squares[start]),
        support=float(gains[best]) / (2.0 * limits.sigma**2),
    )


def _check(limits: Limits, depth: float) -> None:
    problems = []
    if not limits.usable:
        problems.append(Problem("limits", FLAG_WORDS["constant"], "freeze a baseline whose values vary"))
    if not 0.0 < depth < float("inf"):
        problems.append(Problem("depth", f"{depth}", "give a value above 0, usually 3"))
    if problems:
        raise InputError(problems)
