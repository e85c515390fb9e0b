"""How one property follows another: a straight line over the baseline, and the band about it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.forecast import Forecast
from sandlab.charts.normal import Floats
from sandlab.errors import InputError, Problem

MINIMUM = 8
"""Pairs that a relation needs."""


@dataclass(frozen=True, slots=True)
class Relation:
    """A fitted line: slope and intercept with their standard errors, the scatter about it, what it rests on.

    `explained` is the share of the variance of y that the line explains (R squared); `x_low` and `x_high` are
    the ends of the x it was fitted over; `squares` the sum of squares of x about its mean.
    """

    slope: float
    intercept: float
    slope_error: float
    intercept_error: float
    sigma: float
    explained: float
    count: int
    x_mean: float
    x_low: float
    x_high: float
    squares: float

    def expected(self, x: npt.ArrayLike) -> Floats:
        """The y that belongs to each x."""
        return np.asarray(self.intercept + self.slope * np.asarray(x, dtype=np.float64))

    @property
    def sure(self) -> bool:
        """Whether the slope is more than chance, at 95 %."""
        # Imported here: drawing a chart needs no scipy.
        from scipy.special import stdtrit

        return abs(self.slope) > float(stdtrit(self.count - 2, 0.975)) * self.slope_error


def fit_relation(x: npt.ArrayLike, y: npt.ArrayLike) -> Relation:
    """The least-squares line of y on x.

    ``b = sum (x - x_m)(y - y_m)/S, a = y_m - b x_m, S = sum (x - x_m)^2, s^2 = sum (y - a - b x)^2/(n - 2)``
    ``e_b = s/sqrt(S), e_a = s sqrt(1/n + x_m^2/S)``

    x: of each pair, NaN where missing [unit of x]
    y: of each pair, NaN where missing [unit of y]
    returns: line, errors, scatter, share explained [unit of y]

    Shapes: two rows of the same length, MINIMUM or more complete pairs.
    Validity: a straight relation with the same scatter everywhere; x is known much better than it varies.
    Errors: InputError for fewer pairs, rows that do not match, infinite values, or an x that does not vary.
    Example:
    >>> line = fit_relation([1, 2, 3, 4, 5, 6, 7, 8], [2.1, 3.9, 6.2, 7.8, 10.1, 12.0, 13.9, 16.0])
    >>> round(line.slope, 3), round(line.intercept, 3), round(line.sigma, 3)
    (1.988, 0.054, 0.138)

    Source: nist_strd_linear, linear regression (data set Norris and its certified values).
    """
    one, other = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    _check(one, other)
    complete = ~(np.isnan(one) | np.isnan(other))
    one, other = one[complete], other[complete]
    n, x_mean, y_mean = one.size, float(one.mean()), float(other.mean())
    dx, dy = one - x_mean, other - y_mean
    squares = float(dx @ dx)
    slope = float(dx @ dy) / squares
    rest = dy - slope * dx
    sigma = math.sqrt(float(rest @ rest) / (n - 2))
    all_of_it = float(dy @ dy)
    return Relation(
        slope=slope,
        intercept=y_mean - slope * x_mean,
        slope_error=sigma / math.sqrt(squares),
        intercept_error=sigma * math.sqrt(1.0 / n + x_mean**2 / squares),
        sigma=sigma,
        explained=1.0 - float(rest @ rest) / all_of_it if all_of_it > 0.0 else 0.0,
        count=int(n),
        x_mean=x_mean,
        x_low=float(one.min()),
        x_high=float(one.max()),
        squares=squares,
    )


def relation_band(relation: Relation, x: npt.ArrayLike, *, confidence: float = 0.99) -> Forecast:
    """The y expected at each x, with the band that holds a single further test.

    ``y = a + b x; band: +- t s sqrt(1 + 1/n + (x - x_m)^2/S), t of Student's law with n - 2 degrees``

    relation: fitted over a baseline [unit of y]
    x: at which y is expected [unit of x]
    confidence: of the band for one test, above 0 and below 1 [1]
    returns: expected y with its band [unit of y]

    Shapes: one row of x.
    Validity: that of the line; outside the x it was fitted over it only guesses.
    Errors: InputError for x that is no number, a confidence out of range.
    Example:
    >>> line = fit_relation([1, 2, 3, 4, 5, 6, 7, 8], [2.1, 3.9, 6.2, 7.8, 10.1, 12.0, 13.9, 16.0])
    >>> band = relation_band(line, [4.5])
    >>> round(float(band.level[0]), 2), round(float(band.high[0] - band.level[0]), 2)
    (9.0, 0.54)

    Source: draper_smith1998, section 1.4 (variance of a single predicted observation).
    """
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import stdtrit

    at = np.asarray(x, dtype=np.float64)
    problems = []
    if not np.all(np.isfinite(at)):
        problems.append(Problem("x", "not all are numbers", "leave out what was not measured"))
    if not 0.0 < confidence < 1.0:
        problems.append(Problem("confidence", f"{confidence}", "give a share above 0 and below 1"))
    if problems:
        raise InputError(problems)
    away = 1.0 + 1.0 / relation.count + (at - relation.x_mean) ** 2 / relation.squares
    t = float(stdtrit(relation.count - 2, 0.5 * (1.0 + confidence)))
    level = relation.expected(at)
    reach = t * relation.sigma * np.sqrt(away)
    return Forecast(at, level, level - reach, level + reach, confidence)


def _check(x: Floats, y: Floats) -> None:
    if x.shape != y.shape or x.ndim != 1:
        what = f"{x.size} x for {y.size} y"
        raise InputError(Problem("pairs", what, "give one x for each y"))
    if np.any(np.isinf(x)) or np.any(np.isinf(y)):
        raise InputError(Problem("pairs", "a value is infinite", "leave out what was not measured"))
    complete = ~(np.isnan(x) | np.isnan(y))
    if int(complete.sum()) < MINIMUM:
        raise InputError(Problem("pairs", f"{int(complete.sum())} complete", f"give {MINIMUM} or more"))
    kept = x[complete]
    if float(kept.max() - kept.min()) <= 1e-12 * float(np.abs(kept).max()):
        raise InputError(Problem("x", "does not vary", "a relation needs an x that does"))
