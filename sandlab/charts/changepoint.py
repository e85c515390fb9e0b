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

# Log-likelihood below the best at which a start is still believed: covers 84 to 97 % of steps of 0.5 to 2
# sigmas in simulation, where 2 covers 69 to 91 %.
DEPTH = 3.0


@dataclass(frozen=True, slots=True)
class Change:
    """One shape of change: the first changed test, the places it may have begun, its size, its support.

    `size` is the shift of the mean for a step and the slope per slot for a ramp, in the property's unit;
    `support` is the gain in log-likelihood over no change. Slopes found after an alarm are too steep by a
    fifth to a quarter on average, because only the steep ones have alarmed yet.
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

    With r = x - centre and the change after slot t: step g(t) = (sum r)^2/n over the n tests after t;
    ramp g(t) = (sum (i - t) r_i)^2 / sum (i - t)^2. Best: t at the largest g; support g/(2 sigma^2);
    believed starts: g_max - g(t) <= 2 depth sigma^2. One pass over suffix sums.

    Parameters: values: one per slot, NaN where missing, up to the present [any].
    depth: of the confidence set in log-likelihood, above 0 [1].
    Valid for independent tests of known centre and sigma; autocorrelated ones make the set too small.
    Raises InputError for no measured test, infinite values, a depth of 0 or less, a constant baseline.
    Example: values 0, 0, 0, 2, 2 around centre 0 with sigma 1: a step of 2 from place 3.
    Source: Samuel, Pignatiello & Calvin 1998 (step); Perry, Pignatiello & Simpson 2006 (ramp).
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

    g(t) = t (n - t)/n (m2 - m1)^2, largest at the split; sigma from the two parts together.

    Parameters: values: one per slot, NaN where missing; four or more measured [any].
    Raises InputError for fewer, or for equal values. `may_begin` has the depth of 3.
    Example: the Nile's annual flow from 1871 changes with the year 1899. Source: cobb1978.
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
