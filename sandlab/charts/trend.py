"""How fast a property drifts, whatever odd tests say, and when it will reach a limit at this rate."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from sandlab.charts.estimates import as_series, lag1_autocorrelation
from sandlab.charts.normal import Floats
from sandlab.errors import InputError, Problem, impossible

MINIMUM = 5
LARGEST = 3000
# Up to this many tests without ties the distribution of Kendall's S is counted out.
EXACT = 60


@dataclass(frozen=True, slots=True)
class Trend:
    """A straight drift: slope per hour with its interval, level now, and what both rest on.

    `chance` is that of so strong an agreement of order and time when nothing drifts; `phi` the
    autocorrelation around the line that was allowed for; `correlation` that of the errors of level and slope.
    """

    slope: float
    slope_low: float
    slope_high: float
    slope_error: float
    level: float
    level_error: float
    correlation: float
    confidence: float
    chance: float
    phi: float
    count: int

    @property
    def sure(self) -> bool:
        """Whether the interval of the slope leaves no doubt of its direction."""
        return self.slope_low > 0.0 or self.slope_high < 0.0


def robust_trend(
    values: npt.ArrayLike, hours: npt.ArrayLike, *, confidence: float = 0.9, phi: float | None = None
) -> Trend:
    """Median slope of all pairs of tests, with limits from the distribution of Kendall's S.

    ``slope = median of (x_j - x_i)/(t_j - t_i); limits: the slopes of rank (N - C)/2 and (N + C)/2 + 1``
    ``P(S > C) <= a/2``, N pairs, counted out for up to 60 tests without ties, else ``C = z sqrt(var S n/n*)``

    var S has the correction for ties; n/n* = 1 + 2 sum (n - k)(n - k - 1)(n - k - 2) phi^k/(n (n - 1)(n - 2))
    for autocorrelation. The level is the median of x - slope t, carried to the last test.

    values: one per test, NaN where missing [unit of the property]
    hours: when each was taken, ascending [h]
    confidence: of the limits, above 0.5 and below 1 [1]
    phi: autocorrelation from test to test, 0 to 0.95; None takes it from the tests, if it is no chance [1]
    returns: slope per hour with limits, level at the last test, their errors [unit of the property]

    Shapes: two rows of the same length, MINIMUM to 3000 measured values.
    Validity: a straight drift; up to 29 % of odd tests do no harm. In simulations 90 % limits hold
    the slope 90 to 93 times in 100 for independent tests and for a phi that is given; 86 times for 40 tests
    whose phi of 0.5 or 0.7 is taken from them, 70 times for 10: give it where a baseline knows it.
    Errors: InputError with every problem at once: fewer or more values, infinite ones, times that do not
    ascend or match, settings out of range, a confidence that so few tests cannot give.
    Example:
    >>> found = robust_trend([9.0, 15.0, 19.0, 20.0, 45.0, 55.0], [1.0, 2.0, 3.0, 4.0, 10.0, 12.0])
    >>> round(found.slope, 3), round(found.slope_low, 2), round(found.slope_high, 2), found.level
    (4.0, 3.67, 5.0, 54.0)

    Source: sen1968, sections 3 and 4; hamed_rao1998 for autocorrelation.
    """
    series, times = as_series(values), np.asarray(hours, dtype=np.float64)
    _check(series, times, confidence, phi)
    measured = ~np.isnan(series)
    x, t = series[measured], times[measured]
    first, second = np.triu_indices(x.size, 1)
    slopes = np.sort((x[second] - x[first]) / (t[second] - t[first]))
    slope = float(np.median(slopes))
    residuals = x - slope * (t - t[-1])
    level = float(np.median(residuals))
    around = np.full(series.size, np.nan)
    around[measured] = residuals - level
    phi = _significant(around, x.size) if phi is None else phi
    score = float(np.sign(x[second] - x[first]).sum())
    spread = _kendall_deviation(x) * math.sqrt(_inflation(x.size, phi))
    exact = phi == 0.0 and x.size <= EXACT and np.unique(x).size == x.size
    # The limits are as far in from either end of the slopes.
    rank = _exact_rank(x.size, confidence) if exact else (slopes.size - _z(confidence) * spread) // 2
    place = max(0, int(rank) - 1)
    low, high = float(slopes[place]), float(slopes[-1 - place])
    slope_error = (high - low) / (2.0 * _z(confidence))
    level_error, correlation = _at_the_end(residuals - level, t, phi, slope_error)
    return Trend(
        slope=slope,
        slope_low=low,
        slope_high=high,
        slope_error=slope_error,
        level=level,
        level_error=level_error,
        correlation=correlation,
        confidence=confidence,
        chance=_chance(score, x.size, spread, exact),
        phi=phi,
        count=int(x.size),
    )


@lru_cache(maxsize=64)
def kendall_tail(count: int) -> tuple[float, ...]:
    """Chance that Kendall's S of `count` unrelated tests without ties is at least N - 2k, k = 0, 1, ...

    ``number of orders with k inversions, by convolution with 1 + q + ... + q^j``, N = count (count - 1)/2

    count: tests, 2 to 60 [1]
    returns: chances from S = N downwards to -N [1]

    Shapes: N + 1 values.
    Validity: independent tests, none equal.
    Errors: InputError outside that range.
    Example:
    >>> [round(chance, 3) for chance in kendall_tail(5)[:4]]
    [0.008, 0.042, 0.117, 0.242]

    Source: kendall_table, upper tail.
    """
    if not 2 <= count <= EXACT:
        raise impossible("tests", f"{count}", f"give 2 to {EXACT}")
    chances = np.ones(1)
    for size in range(2, count + 1):
        chances = np.convolve(chances, np.full(size, 1.0 / size))
    return tuple(np.minimum(np.cumsum(chances), 1.0).tolist())


def _exact_rank(count: int, confidence: float) -> int:
    """Rank of the lower limit among the slopes: as many values of S from the top have a chance up to a/2."""
    rank = sum(chance <= 0.5 * (1.0 - confidence) for chance in kendall_tail(count))
    if rank == 0:
        what = f"{count} tests cannot give limits at {confidence:g}"
        raise impossible("confidence", what, "give more tests or a lower confidence")
    return rank


def _kendall_deviation(x: Floats) -> float:
    """Standard deviation of Kendall's S, groups of equal values taken out."""
    ties = np.unique(x, return_counts=True)[1].astype(np.float64)
    n = float(x.size)
    square = n * (n - 1.0) * (2.0 * n + 5.0) - float((ties * (ties - 1.0) * (2.0 * ties + 5.0)).sum())
    return math.sqrt(square / 18.0)


def _inflation(count: int, phi: float) -> float:
    """How far autocorrelation widens the variance of S."""
    k = np.arange(1, count - 2, dtype=np.float64)
    weights = (count - k) * (count - k - 1.0) * (count - k - 2.0)
    return 1.0 + 2.0 * float(weights @ phi**k) / (count * (count - 1.0) * (count - 2.0))


def _significant(around: Floats, count: int) -> float:
    """The lag-1 autocorrelation around the line where it cannot be chance, its shortfall put back."""
    lag1 = lag1_autocorrelation(around)
    if lag1 is None or lag1 < 1.65 / math.sqrt(count):
        return 0.0
    return min(0.95, lag1 + (2.0 + 4.0 * lag1) / count)


def _at_the_end(residuals: Floats, t: Floats, phi: float, slope_error: float) -> tuple[float, float]:
    """Error of the level at the last test, and its correlation with that of the slope."""
    deviation = 1.4826 * float(np.median(np.abs(residuals)))
    deviation = deviation or float(np.sqrt(np.mean(residuals**2)))
    # A median is worth 2/pi of a mean, and the level at the end leans on the slope as well.
    middle = deviation * math.sqrt(math.pi / 2.0 / t.size * (1.0 + phi) / (1.0 - phi))
    lean = float(t[-1] - t.mean()) * slope_error
    error = math.hypot(middle, lean)
    return error, lean / error if error > 0.0 else 0.0


def _chance(score: float, count: int, spread: float, exact: bool) -> float:
    """Two-sided chance of so large a score when nothing drifts."""
    if exact:
        inversions = (count * (count - 1) // 2 - round(abs(score))) // 2
        return min(1.0, 2.0 * kendall_tail(count)[inversions])
    if spread == 0.0:
        return 1.0
    return math.erfc(max(0.0, abs(score) - 1.0) / spread / math.sqrt(2.0))


def _z(confidence: float) -> float:
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import ndtri

    return float(ndtri(0.5 * (1.0 + confidence)))


def _check(series: Floats, times: Floats, confidence: float, phi: float | None) -> None:
    problems = []
    count = int(np.count_nonzero(~np.isnan(series)))
    if not MINIMUM <= count <= LARGEST:
        problems.append(Problem("values", f"{count} measured", f"give {MINIMUM} to {LARGEST}"))
    if times.shape != series.shape:
        what = f"{times.size} for {series.size} values"
        problems.append(Problem("hours", what, "give one time per value"))
    elif not np.all(np.isfinite(times)) or np.any(np.diff(times) <= 0.0):
        problems.append(Problem("hours", "they do not ascend", "sort, and join repeated times"))
    if phi is not None and not 0.0 <= phi <= 0.95:
        problems.append(Problem("phi", f"{phi}", "give a value from 0 to 0.95"))
    if not 0.5 < confidence < 1.0:
        problems.append(Problem("confidence", f"{confidence}", "give a share above 0.5 and below 1"))
    if problems:
        raise InputError(problems)
