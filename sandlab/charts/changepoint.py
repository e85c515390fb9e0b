"""When a change began and how large it is: a step or a ramp, with the set of places it may have begun."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.autocorrelation import measured_steps
from sandlab.charts.baseline import FLAG_WORDS, Limits
from sandlab.charts.estimates import as_series
from sandlab.charts.normal import Floats
from sandlab.errors import InputError, Problem, impossible

Shape = Literal["step", "ramp"]

# Log-likelihood below the best at which a start is still believed: covers 82 to 96 % of steps of 0.5 to 2
# sigmas in simulation, where 2 covers 69 to 90 %.
DEPTH = 3.0
LARGEST_PHI = 0.995
_NINETY_FIVE = 1.959964


@dataclass(frozen=True, slots=True)
class Change:
    """One shape of change: the first changed test, the places it may have begun, its size, its support.

    `size` is the shift of the mean for a step and the slope per slot for a ramp, in the property's unit;
    `come_to` is what it has come to by the last test, with its 95 % interval over all starts that may be;
    `support` is the gain in log-likelihood over no change. Slopes found just after a point beyond a limit are
    a quarter to a third too steep in the median of simulations.
    """

    shape: Shape
    start: int
    may_begin: tuple[int, ...]
    size: float
    come_to: float
    come_to_low: float
    come_to_high: float
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


def change_point(
    values: npt.ArrayLike,
    limits: Limits,
    *,
    phi: float = 0.0,
    at: npt.ArrayLike | None = None,
    depth: float = DEPTH,
) -> ChangePoint:
    """Maximum-likelihood start of a change that lasts to the last value, from the frozen centre.

    ``step g(t) = (sum r)^2/n; ramp g(t) = (sum (i - t) r_i)^2 / sum (i - t)^2``, n tests after slot t
    ``r = x - centre; support = g/(2 sigma^2); may begin: g_max - g(t) <= 2 depth sigma^2``

    Tests that resemble each other count by what each adds: r_i - a_i r_i-1 over sqrt(1 - a_i^2) and the same
    of the shape of the change, a_i = phi^gap. A step then shows in full at its first test only.

    values: one per slot up to the present, NaN where missing [unit of the property]
    limits: frozen baseline, of which centre and sigma are used [unit of the property]
    phi: lag-1 autocorrelation of the baseline, -0.995 to 0.995 [1]
    at: place of each value, ascending, for tests between slots [slots]
    depth: of the confidence set in log-likelihood, above 0 [1]
    returns: start, confidence set, size and support of the best step and ramp [unit of the property]

    Shapes: one row with a measured value; linear in its length, by sums from the end.
    Validity: known centre, marginal sigma and phi; a set made with a phi too small is too small.
    Errors: InputError for no measured value, infinite ones, settings out of range, a constant baseline.
    Example:
    >>> change = change_point([0.1, -0.1, 0.0, 2.0, 2.1], Limits(0.0, 1.0, 99, 1.0, 1.0, 0.0)).step
    >>> change.start, round(change.size, 2)
    (3, 2.05)

    Source: samuel1998, equation of the step; perry2006 for the ramp; harris_ross1991 for what resembles.
    """
    _check(limits, phi, depth)
    x, gaps = measured_steps(values, at)
    if not x.size:
        raise impossible("values", "no test measured", "give at least one")
    starts = np.flatnonzero(~np.isnan(np.asarray(values, dtype=np.float64)))
    carry = np.concatenate(([0.0], np.sign(phi) ** gaps * np.abs(phi) ** gaps)) if phi else np.zeros(x.size)
    spread = 1.0 / np.sqrt(1.0 - carry * carry)
    # back: slots to the end, so that the length of a ramp stays small near it.
    back = np.concatenate((np.cumsum(gaps[::-1])[::-1], [0.0]))
    added = _added(x - limits.centre, carry, spread)
    level, slope = (1.0 - carry) * spread, -_added(back, carry, spread)
    first, reach = spread * added, back + 1.0
    sums, squares = _after(level * added), _after(level * level)
    step = _best("step", first + sums, spread * spread + squares, np.ones_like(reach), starts, limits, depth)
    sums = first + reach * sums + _after(slope * added)
    squares = reach * reach * squares + 2.0 * reach * _after(level * slope) + _after(slope * slope)
    return ChangePoint(step, _best("ramp", sums, spread * spread + squares, reach, starts, limits, depth))


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
    reach = _NINETY_FIVE * math.sqrt(variance * measured.size / (before[best] * after[best]))
    return Change(
        shape="step",
        start=int(places[best + 1]),
        may_begin=tuple(starts.tolist()),
        size=size,
        come_to=size,
        come_to_low=size - reach,
        come_to_high=size + reach,
        support=float(gains[best]) / (2.0 * variance),
    )


def _added(values: Floats, carry: Floats, spread: Floats) -> Floats:
    """What each value adds to what the one before it foretold, in its own deviation."""
    before = np.concatenate(([0.0], values[:-1]))
    return (values - carry * before) * spread


def _after(values: Floats) -> Floats:
    """Sum from behind each place to the end."""
    return np.concatenate((np.cumsum(values[:0:-1])[::-1], [0.0]))


def _best(
    shape: Shape,
    sums: Floats,
    squares: Floats,
    reach: Floats,
    starts: npt.NDArray[np.intp],
    limits: Limits,
    depth: float,
) -> Change:
    """The start of largest gain among the measured tests; the last test lies `reach` slots into it."""
    gains = sums**2 / squares
    best = int(np.argmax(gains))
    short = (gains[best] - gains) / (2.0 * limits.sigma**2)
    # The likelihood of each size at each start: where it is within 1.92 of the largest, 95 %.
    deep = 0.5 * _NINETY_FIVE**2
    likely = np.flatnonzero(short <= deep)
    middle = reach[likely] * sums[likely] / squares[likely]
    half = reach[likely] * limits.sigma * np.sqrt(2.0 * (deep - short[likely]) / squares[likely])
    return Change(
        shape=shape,
        start=int(starts[best]),
        may_begin=tuple(starts[short <= depth].tolist()),
        size=float(sums[best] / squares[best]),
        come_to=float(reach[best] * sums[best] / squares[best]),
        come_to_low=float((middle - half).min()),
        come_to_high=float((middle + half).max()),
        support=float(gains[best]) / (2.0 * limits.sigma**2),
    )


def _check(limits: Limits, phi: float, depth: float) -> None:
    problems = []
    if not limits.usable:
        problems.append(Problem("limits", FLAG_WORDS["constant"], "freeze a baseline whose values vary"))
    if not -LARGEST_PHI <= phi <= LARGEST_PHI:
        problems.append(Problem("phi", f"{phi}", f"give a value between -{LARGEST_PHI} and {LARGEST_PHI}"))
    if not 0.0 < depth < float("inf"):
        problems.append(Problem("depth", f"{depth}", "give a value above 0, usually 3"))
    if problems:
        raise InputError(problems)
