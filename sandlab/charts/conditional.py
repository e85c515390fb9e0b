"""What limits from few tests promise: the true run length between false alarms varies with the baseline."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sandlab.charts.baseline import MINIMUM_BASELINE, Basis
from sandlab.charts.constants import d2
from sandlab.charts.normal import below_one
from sandlab.errors import InputError, Problem

# E|x2 - x1||x3 - x2| - (E|x2 - x1|)^2 of independent standard normal values.
_NEIGHBOUR_COVARIANCE = 4.0 / math.pi * (math.sqrt(3.0) / 2.0 + math.pi / 12.0 - 1.0)
_FARTHEST = 1e12


@dataclass(frozen=True, slots=True)
class RunLengthRange:
    """The true run length between false alarms that a baseline may have drawn: 10 %, median, 90 %."""

    low: float
    median: float
    high: float

    @property
    def sentence(self) -> str:
        """The range in words."""
        low, middle, high = (f"{float(f'{one:.2g}'):.0f}" for one in (self.low, self.median, self.high))
        return (
            f"False alarms come about once in {middle} tests; with a baseline of this size, 8 times in 10, "
            f"once in {low} to {high}."
        )


def baseline_run_length(count: int, *, width: float = 3.0, basis: Basis = "overall") -> RunLengthRange:
    """How often limits frozen on `count` tests will really alarm when nothing is wrong.

    ``L(c, s) = 1/(F(c - width s) + F(-c - width s)), c ~ N(0, 1/m), s ~ sqrt(chi2/nu), nu = m - 1``
    ``s ~ (chi2_k/a)^0.75`` with mean 1 and the variance of the mean moving range (moving_range)

    The quantiles solve P(L < l) = q, the chance over c by Gauss-Hermite.

    count: m, independent tests in the baseline; their effective number when they resemble each other [1]
    width: of the limits, in sigmas, 1 to 6 [1]
    basis: what sigma comes from, "overall" or "moving_range" [word]
    returns: 10 %, median and 90 % of the average run length [tests]

    Shapes: scalars.
    Validity: normal values; moving ranges within 1 % of simulation from 8 tests on; held below 1e12.
    Errors: InputError for fewer than 8 tests, a width out of range.
    Example:
    >>> found = baseline_run_length(30, basis="moving_range")
    >>> round(found.low), round(found.median), round(found.high, -1)
    (51, 298, 3300.0)

    Source: cryer_ryan1990, variance of the mean moving range.
    """
    _check(count, width)
    low, median, high = (_quantile(share, count, width, basis) for share in (0.1, 0.5, 0.9))
    return RunLengthRange(low, median, high)


def guaranteed_width(
    count: int, *, run_length: float = 370.4, assurance: float = 0.9, basis: Basis = "overall"
) -> float:
    """Width of limits that keep a wanted run length for most of the baselines that could have been drawn.

    ``root in the width of P(L(c, s) < run_length) = 1 - assurance``

    count: independent tests in the baseline; their effective number when they resemble each other [1]
    run_length: wanted between false alarms, 2 to 1000000 [tests]
    assurance: share of baselines that keep it, 0.5 to 0.99 [1]
    basis: what sigma comes from, "overall" or "moving_range" [word]
    returns: distance of the limits from the centre, in sigmas [1]

    Shapes: scalars.
    Validity: as for `baseline_run_length`.
    Errors: InputError for settings out of range.
    Example:
    >>> round(guaranteed_width(30), 2), round(guaranteed_width(300), 2)
    (3.69, 3.17)

    Source: gandy_kvaloy2013, the aim; computed here and not by resampling.
    """
    # Imported here: drawing a chart needs no scipy.
    from scipy.optimize import brentq

    problems = []
    if not 2.0 <= run_length <= 1e6:
        problems.append(Problem("run length", f"{run_length} tests", "give a number from 2 to 1000000"))
    if not 0.5 <= assurance <= 0.99:
        problems.append(Problem("assurance", f"{assurance}", "give a share from 0.5 to 0.99"))
    if problems:
        raise InputError(problems)
    _check(count, 3.0)

    def missing(width: float) -> float:
        return _chance_below(run_length, count, width, basis) - (1.0 - assurance)

    return float(brentq(missing, 0.3, 40.0, xtol=1e-6))


def moving_range_variance(ranges: int) -> float:
    """Variance of the mean of that many moving ranges, as a share of its square (cryer_ryan1990)."""
    single = 2.0 - d2(2) ** 2
    return (single + 2.0 * (ranges - 1) / ranges * _NEIGHBOUR_COVARIANCE) / ranges / d2(2) ** 2


def _quantile(share: float, count: int, width: float, basis: Basis) -> float:
    from scipy.optimize import brentq

    def missing(log_length: float) -> float:
        return _chance_below(math.exp(log_length), count, width, basis) - share

    top = math.log(_FARTHEST)
    return _FARTHEST if missing(top) < 0.0 else math.exp(brentq(missing, 1e-6, top, xtol=1e-9))


def _chance_below(length: float, count: int, width: float, basis: Basis) -> float:
    """The chance that a baseline of `count` tests has a run length below `length`."""
    from scipy.optimize import brentq
    from scipy.special import chdtr

    freedom, power, unit = _spread_law(count, basis)
    points, weights = np.polynomial.hermite_e.hermegauss(21)
    total = 0.0
    for point, weight in zip(points.tolist(), (weights / weights.sum()).tolist(), strict=True):
        offset = abs(point) / math.sqrt(count)

        def excess(scale: float, offset: float = offset) -> float:
            beyond = below_one(offset - width * scale) + below_one(-offset - width * scale)
            return beyond - 1.0 / length

        scale = 0.0 if excess(0.0) <= 0.0 else brentq(excess, 0.0, (9.0 + offset) / width, xtol=1e-12)
        total += weight * float(chdtr(freedom, (scale * unit) ** (1.0 / power)))
    return total


@lru_cache(maxsize=64)
def _spread_law(count: int, basis: Basis) -> tuple[float, float, float]:
    """Degrees of freedom, power and unit of the law of sigma: (chi-square)^power/unit."""
    if basis == "overall":
        return count - 1.0, 0.5, math.sqrt(count - 1.0)
    from scipy.optimize import brentq

    power, variance = 0.75, moving_range_variance(count - 1)

    def moment(freedom: float, order: float) -> float:
        return math.exp(order * math.log(2.0) + math.lgamma(freedom / 2 + order) - math.lgamma(freedom / 2))

    def excess(freedom: float) -> float:
        return moment(freedom, 2.0 * power) / moment(freedom, power) ** 2 - 1.0 - variance

    freedom = float(brentq(excess, 0.5, 10.0 * count))
    return freedom, power, moment(freedom, power)


def _check(count: int, width: float) -> None:
    problems = []
    if count < MINIMUM_BASELINE:
        problems.append(Problem("baseline", f"{count} tests", f"give {MINIMUM_BASELINE} or more"))
    if not 1.0 <= width <= 6.0:
        problems.append(Problem("width", f"{width} sigmas", "give a value from 1 to 6"))
    if problems:
        raise InputError(problems)
