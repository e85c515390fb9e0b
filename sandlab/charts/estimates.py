"""What a series of tests says about its level and spread: gaps kept, digits kept.

A series is one value per slot in the order of time; a missing test is NaN in its slot. Neighbours are values
in adjacent slots, so one missing test removes two moving ranges.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.constants import d2
from sandlab.charts.normal import Floats
from sandlab.errors import impossible

# A reading that resolves no better than this share of sigma biases moving ranges.
COARSE_SHARE = 0.5
# Beyond it squares would overflow; no test reads so much.
LARGEST = 1e100
_SAMPLE = 4096


@dataclass(frozen=True, slots=True)
class Estimates:
    """Level and spread of a series; `neighbours` counts the moving ranges, None where nothing can be said."""

    count: int
    mean: float
    sigma_overall: float
    neighbours: int
    moving_range_mean: float | None
    sigma_moving_range: float | None
    lag1: float | None


def as_series(values: npt.ArrayLike, *, where: str = "values") -> Floats:
    """`values` as one row of floats; infinite values and tables are refused, NaN is a missing test."""
    series = np.asarray(values, dtype=np.float64)
    if series.ndim != 1:
        raise impossible(where, f"{series.ndim} dimensions", "give one row of values, one per test")
    if not is_complete(series):
        beyond = np.flatnonzero(np.abs(series) >= LARGEST)
        if beyond.size:
            what = f"value {int(beyond[0]) + 1} is infinite or beyond {LARGEST:g}"
            raise impossible(where, what, "correct or void that test")
    return series


def is_complete(series: Floats) -> bool:
    """Whether every value is measured and usable; two read passes, in which NaN fails both comparisons."""
    return not series.size or bool(series.min() > -LARGEST and series.max() < LARGEST)


def mean_and_sigma(values: npt.ArrayLike) -> tuple[float, float]:
    """Mean and standard deviation (n - 1) of the measured values, in two passes.

    ``mean = x0 + sum(x - x0)/n; s^2 = (sum r^2 - (sum r)^2/n)/(n - 1), r = x - mean``

    values: one per slot, NaN where missing [unit of the property]
    returns: mean and standard deviation [unit of the property]

    Shapes: one row of two or more measured values.
    Validity: 14 digits on the NIST reference sets; 13 on Michelso, 9 on NumAcc3: doubles hold no more.
    Errors: InputError for fewer than two measured values, for infinite ones.
    Example:
    >>> mean_and_sigma([10000001.0, 10000003.0, 10000002.0])
    (10000002.0, 1.0)

    Source: nist_strd, NumAcc1.
    """
    measured = _measured(as_series(values))
    if measured.size < 2:
        raise impossible("values", f"{measured.size} measured", "a spread needs two or more values")
    mean, residuals = _residuals(measured)
    return mean, _sigma(residuals)


def moving_ranges(values: npt.ArrayLike) -> Floats:
    """Distance of each value from its neighbour before it: same length, NaN where either is missing."""
    series = as_series(values)
    ranges = np.full(series.size, np.nan)
    np.abs(np.diff(series), out=ranges[1:])
    return ranges


def lag1_autocorrelation(values: npt.ArrayLike) -> float | None:
    """How alike neighbouring tests are: 0 for independent ones, towards 1 when each repeats the last.

    ``r1 = (n - 1) mean((x_i - m)(x_i+1 - m) over neighbours) / sum((x_i - m)^2)``

    values: one per slot, NaN where missing [unit of the property]
    returns: autocorrelation, None when all values are equal or none has a neighbour [1]

    Shapes: one row of two or more measured values.
    Validity: the usual sum over n - 1 products when no test is missing; held within -1 and 1.
    Errors: InputError for fewer than two measured values, for infinite ones.
    Example:
    >>> lag1_autocorrelation([10000001.0, 10000003.0, 10000002.0])
    -0.5

    Source: nist_strd, NumAcc1.
    """
    return estimate(values).lag1


def estimate(values: npt.ArrayLike) -> Estimates:
    """Level, spread and lag-1 autocorrelation of a series; raises InputError for fewer than two values."""
    series = as_series(values)
    measured = _measured(series)
    if measured.size < 2:
        raise impossible("values", f"{measured.size} measured", "a spread needs two or more values")
    mean, residuals = _residuals(measured)
    steps = np.diff(series)
    np.abs(steps, out=steps)
    steps = _measured(steps)
    range_mean = float(steps.mean()) if steps.size else None
    return Estimates(
        count=int(measured.size),
        mean=mean,
        sigma_overall=_sigma(residuals),
        neighbours=int(steps.size),
        moving_range_mean=range_mean,
        sigma_moving_range=None if range_mean is None else range_mean / d2(2),
        lag1=_lag1(residuals, series, int(steps.size)),
    )


def smallest_step(values: npt.ArrayLike) -> float | None:
    """The smallest difference between unlike values: what the reading resolves; None when all are equal."""
    steps = np.diff(np.unique(_measured(as_series(values))))
    # Two sums of the same decimals differ in the last bit; that is no step.
    steps = steps[steps > 1e-9 * np.max(np.abs(steps), initial=0.0)]
    return float(steps.min()) if steps.size else None


def is_coarse(values: npt.ArrayLike, sigma: float) -> bool:
    """Whether the reading is too coarse for its spread: its smallest step is more than half of sigma.

    Moving ranges of such readings are mostly 0 or one step, and limits from them mislead.
    """
    # The first values settle it for a fine reading, without sorting a long history.
    series = as_series(values)
    return _coarse(series[:_SAMPLE], sigma) and (series.size <= _SAMPLE or _coarse(series, sigma))


def _coarse(series: Floats, sigma: float) -> bool:
    step = smallest_step(series)
    return step is not None and step > COARSE_SHARE * sigma


def _measured(series: Floats) -> Floats:
    return series if is_complete(series) else series[~np.isnan(series)]


def _residuals(measured: Floats) -> tuple[float, Floats]:
    """Mean, by way of the distances from the first value, and the distances from it."""
    first = float(measured[0])
    residuals = measured - first
    offset = float(residuals.mean())
    residuals -= offset
    return first + offset, residuals


def _sigma(residuals: Floats) -> float:
    correction = float(residuals.sum())
    squares = float(residuals @ residuals) - correction * correction / residuals.size
    return float(np.sqrt(max(0.0, squares) / (residuals.size - 1)))


def _lag1(residuals: Floats, series: Floats, neighbours: int) -> float | None:
    """The ratio of `lag1_autocorrelation` from the distances of the measured values from their mean."""
    squares = float(residuals @ residuals)
    if neighbours < 1 or squares == 0.0:
        return None
    first, second = residuals[:-1], residuals[1:]
    if residuals.size < series.size:
        adjacent = np.diff(np.flatnonzero(~np.isnan(series))) == 1
        first, second = first[adjacent], second[adjacent]
    together = float(first @ second)
    return min(1.0, max(-1.0, together / neighbours * (residuals.size - 1) / squares))
