"""Whether tests look normal, and the quantiles of a curve that need not be."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.estimates import as_series, mean_and_sigma
from sandlab.charts.normal import Floats
from sandlab.errors import impossible

MINIMUM_FOR_NORMALITY = 8
MINIMUM_FOR_QUANTILES = 50
# The curve goes through the points at -3, -1, 1 and 3 times it in normal deviates: 1.8 % of the tests lie
# beyond the outer ones. At 0.524, the usual choice, six tenths of a hundred tests are hardly looked at.
_DEVIATE = 0.7
_NEAR_LOGNORMAL = 1e-3
_REFUTED = 0.01


@dataclass(frozen=True, slots=True)
class Normality:
    """The Anderson-Darling statistic, corrected for size and autocorrelation, and its chance if normal."""

    statistic: float
    chance: float
    count: int


@dataclass(frozen=True, slots=True)
class Quantiles:
    """Below them lie 0.135 %, half and 99.865 % of the tests: three sigmas and the middle of a normal law."""

    low: float
    median: float
    high: float


def anderson_darling(values: npt.ArrayLike, *, phi: float = 0.0) -> Normality:
    """Anderson-Darling test of normality with estimated mean and deviation.

    ``A2 = -n - sum (2i - 1)(log F(z_i) + log F(-z_n+1-i))/n; A* = A2 (1 + 0.75/n + 2.25/n^2)``

    Autocorrelated tests stray further: A* is divided by (1 + phi^3)/(1 - phi^3).

    values: one per slot, NaN where missing [unit of the property]
    phi: lag-1 autocorrelation allowed for, -0.95 to 0.95 [1]
    returns: statistic and its chance when the tests are normal [1]

    Shapes: one row of 8 or more measured values.
    Validity: readings finer than half a sigma; at a chance of .01, simulated false calls are .01 for
    independent tests and below .006 for phi of .5 to .85.
    Errors: InputError for fewer values, equal or infinite ones, phi out of range.
    Example:
    >>> found = anderson_darling([1.0, 2.0, 2.5, 2.9, 3.1, 3.4, 4.1, 5.0])
    >>> round(found.statistic, 4), round(found.chance, 2)
    (0.1413, 0.97)

    Source: dagostino_stephens1986, Tables 4.7 and 4.9.
    """
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import log_ndtr

    measured = _measured(values, MINIMUM_FOR_NORMALITY)
    if not -0.95 <= phi <= 0.95:
        raise impossible("phi", f"{phi}", "give a value between -0.95 and 0.95")
    mean, sigma = mean_and_sigma(measured)
    z = np.sort((measured - mean) / sigma)
    n = z.size
    logs = log_ndtr(z) + log_ndtr(-z[::-1])
    square = -n - float((2.0 * np.arange(1, n + 1) - 1.0) @ logs) / n
    cube = max(0.0, phi) ** 3
    statistic = square * (1.0 + 0.75 / n + 2.25 / n**2) * (1.0 - cube) / (1.0 + cube)
    return Normality(statistic, anderson_darling_chance(statistic), n)


def anderson_darling_chance(statistic: float) -> float:
    """The chance of a larger Anderson-Darling statistic when the tests are normal.

    ``exp(1.2937 - 5.709 A + 0.0186 A^2)`` from 0.6 on, and three more pieces of the same kind below

    statistic: A*, corrected for size, 0 or more [1]
    returns: chance, 0 where it is below 1e-20 [1]

    Shapes: scalars.
    Validity: mean and deviation estimated from the same tests.
    Errors: none.
    Example:
    >>> round(anderson_darling_chance(0.752), 2)
    0.05

    Source: dagostino_stephens1986, Table 4.9.
    """
    a = statistic
    if a < 0.2:
        return 1.0 - math.exp(-13.436 + 101.14 * a - 223.73 * a * a)
    if a < 0.34:
        return 1.0 - math.exp(-8.318 + 42.796 * a - 59.938 * a * a)
    if a < 0.6:
        return math.exp(0.9177 - 4.279 * a - 1.38 * a * a)
    return math.exp(1.2937 - 5.709 * a + 0.0186 * a * a) if a < 10.0 else 0.0


def johnson_quantiles(values: npt.ArrayLike) -> Quantiles | None:
    """Outer quantiles of the Johnson curve through four quantiles of the tests; None when no curve fits.

    ``m = x(3z) - x(z), n = x(-z) - x(-3z), p = x(z) - x(-z)``; unbounded for mn > p^2, bounded for mn < p^2
    ``x = e + l sinh((Z - g)/d)`` (unbounded), ``e + l/(1 + exp((g - Z)/d))`` (bounded), at Z = -3, 0, 3

    values: one per slot, NaN where missing [unit of the property]
    returns: quantiles at 0.135 %, 50 % and 99.865 % [unit of the property]

    Shapes: one row of 50 or more measured values.
    Validity: one hump. In simulations the distance of the outer quantiles is right within a third (100
    tests), a quarter (300), a tenth (1000), 8 times in 10; coarse readings may leave no curve. More
    tests beyond an outer quantile than chance brings once in a hundred contradict the curve: None.
    Errors: InputError for fewer values, equal or infinite ones.
    Example:
    >>> found = johnson_quantiles([(1.0 + place / 100.0) ** 3 for place in range(100)])
    >>> round(found.low, 1), round(found.median, 1), round(found.high, 1)
    (1.0, 3.3, 8.0)

    Source: slifker_shapiro1980, sections 3 and 4, with z = 0.7.
    """
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import bdtrc, ndtr

    measured = _measured(values, MINIMUM_FOR_QUANTILES)
    shares = ndtr(_DEVIATE * np.array([-3.0, -1.0, 1.0, 3.0]))
    x = np.quantile(measured, shares, method="hazen").tolist()
    m, n, p, middle = x[3] - x[2], x[1] - x[0], x[2] - x[1], (x[1] + x[2]) / 2.0
    if min(m, n, p) <= 0.0:
        return None
    deviates = np.array([-3.0, 0.0, 3.0])
    # At the border between both the curve is lognormal; a hair to its bounded side is the same curve.
    if m * n / p**2 > 1.0 + _NEAR_LOGNORMAL:
        low, median, high = (middle + p * _unbounded(m / p, n / p, deviates)).tolist()
    else:
        narrow = min(1.0, math.sqrt((1.0 - _NEAR_LOGNORMAL) * p**2 / (m * n)))
        low, median, high = (middle + p * _bounded(p / (m * narrow), p / (n * narrow), deviates)).tolist()
    beyond = max(np.count_nonzero(measured < low), np.count_nonzero(measured > high))
    if beyond and bdtrc(beyond - 1, measured.size, ndtr(-3.0)) < _REFUTED:
        return None
    return Quantiles(low, median, high)


def _unbounded(m: float, n: float, deviates: Floats) -> Floats:
    """The unbounded curve in units of p around the middle, m and n in the same units."""
    excess = math.sqrt(m * n - 1.0)
    d = 2.0 * _DEVIATE / math.acosh((m + n) / 2.0)
    g = d * math.asinh((n - m) / (2.0 * excess))
    width = 2.0 * excess / ((m + n - 2.0) * math.sqrt(m + n + 2.0))
    return np.asarray((n - m) / (2.0 * (m + n - 2.0)) + width * np.sinh((deviates - g) / d))


def _bounded(m: float, n: float, deviates: Floats) -> Floats:
    """The bounded curve in units of p around the middle, m and n being p over the outer distances."""
    both, excess = (1.0 + m) * (1.0 + n), m * n - 1.0
    d = _DEVIATE / math.acosh(math.sqrt(both) / 2.0)
    g = d * math.asinh((n - m) * math.sqrt(both - 4.0) / (2.0 * excess))
    width = math.sqrt((both - 2.0) ** 2 - 4.0) / excess
    start = (n - m) / (2.0 * excess) - width / 2.0
    return np.asarray(start + width / (1.0 + np.exp((g - deviates) / d)))


def _measured(values: npt.ArrayLike, least: int) -> Floats:
    series = as_series(values)
    measured = series[~np.isnan(series)]
    if measured.size < least:
        raise impossible("values", f"{measured.size} measured", f"give {least} or more")
    if measured.min() == measured.max():
        raise impossible("values", "all are equal", "give values that vary")
    return measured
