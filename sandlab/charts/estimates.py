"""What a series of tests says about its level and spread: gaps kept, digits kept.

A series is one value per slot in the order of time; a missing test is NaN in its slot. Neighbours are values
in adjacent slots, so one missing test removes two moving ranges.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.constants import d2
from sandlab.charts.normal import Floats, dot
from sandlab.errors import impossible

# A reading that resolves no better than this share of sigma biases moving ranges.
COARSE_SHARE = 0.5
# Beyond it squares would overflow; no test reads so much.
LARGEST = 1e100
_SAMPLE = 64
# Small enough that a chunk and what is computed from it stay in the processor's cache.
CHUNK = 16_384


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
    return checked(values, where=where)[0]


def checked(values: npt.ArrayLike, *, where: str = "values") -> tuple[Floats, bool]:
    """`values` as `as_series` gives them, and whether none is missing."""
    series = np.asarray(values, dtype=np.float64)
    if series.ndim != 1:
        raise impossible(where, f"{series.ndim} dimensions", "give one row of values, one per test")
    complete = is_complete(series)
    if not complete:
        beyond = np.flatnonzero(np.abs(series) >= LARGEST)
        if beyond.size:
            what = f"value {int(beyond[0]) + 1} is infinite or beyond {LARGEST:g}"
            raise impossible(where, what, "correct or void that test")
    return series, complete


def is_complete(series: Floats) -> bool:
    """Whether every value is measured and usable; one read pass, in which NaN fails the comparison."""
    return dot(series, series) < LARGEST * LARGEST


def mean_and_sigma(values: npt.ArrayLike) -> tuple[float, float]:
    """Mean and standard deviation (n - 1) of the measured values, in two passes.

    ``mean = x0 + sum(x - x0)/n; s^2 = sum r^2/(n - 1), r = x - mean``

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
    found = estimate(values)
    return found.mean, found.sigma_overall


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
    series, complete = checked(values)
    measured = series if complete else series[~np.isnan(series)]
    if measured.size < 2:
        raise impossible("values", f"{measured.size} measured", "a spread needs two or more values")
    return estimate_of(series, measured)


def estimate_of(series: Floats, measured: Floats) -> Estimates:
    """The estimates of a checked series of which two or more values are measured."""
    mean = _mean(measured)
    sums = _sums(series, mean, complete=measured.size == series.size)
    range_mean = sums.steps / sums.neighbours if sums.neighbours else None
    return Estimates(
        count=sums.count,
        mean=mean,
        sigma_overall=sums.sigma,
        neighbours=sums.neighbours,
        moving_range_mean=range_mean,
        sigma_moving_range=None if range_mean is None else range_mean / d2(2),
        lag1=sums.lag1,
    )


def smallest_step(values: npt.ArrayLike) -> float | None:
    """The smallest difference between unlike values: what the reading resolves; None when all are equal."""
    return _step(as_series(values))


def _step(series: Floats) -> float | None:
    # Missing values are sorted to the end.
    ordered = np.sort(series)
    steps = ordered[1:] - ordered[:-1]
    # Mostly all differ, and nothing has to be left out.
    if steps.size and (least := float(steps.min())) > 1e-9 * float(ordered[-1] - ordered[0]):
        return least
    steps = steps[steps > 0.0]
    # Two sums of the same decimals differ in the last bit; that is no step.
    steps = steps[steps > 1e-9 * steps.max(initial=0.0)]
    return float(steps.min()) if steps.size else None


def is_coarse(values: npt.ArrayLike, sigma: float) -> bool:
    """Whether the reading is too coarse for its spread: its smallest step is more than half of sigma.

    Moving ranges of such readings are mostly 0 or one step, and limits from them mislead.
    """
    return coarse(as_series(values), sigma)


def coarse(series: Floats, sigma: float) -> bool:
    """The same of a checked series; for a fine reading its first values settle it, without sorting all."""
    first = _step(series[:_SAMPLE])
    if first is not None and first <= COARSE_SHARE * sigma:
        return False
    step = _step(series)
    return step is not None and step > COARSE_SHARE * sigma


def _mean(measured: Floats) -> float:
    """Mean, by way of the distances from the first value."""
    first = float(measured[0])
    chunks = range(0, measured.size, CHUNK)
    return first + sum(float((measured[at : at + CHUNK] - first).sum()) for at in chunks) / measured.size


@dataclass(slots=True)
class _Sums:
    """Sums over a series: of the distances r from its mean, and of neighbours."""

    count: int = 0
    squares: float = 0.0
    neighbours: int = 0
    steps: float = 0.0
    products: float = 0.0

    @property
    def sigma(self) -> float:
        """Standard deviation (n - 1)."""
        return math.sqrt(self.squares / (self.count - 1))

    @property
    def lag1(self) -> float | None:
        """The ratio of `lag1_autocorrelation`."""
        if self.neighbours < 1 or self.squares == 0.0:
            return None
        ratio = self.products / self.neighbours * (self.count - 1) / self.squares
        return min(1.0, max(-1.0, ratio))


def _sums(series: Floats, mean: float, *, complete: bool) -> _Sums:
    """The sums over a series, chunk by chunk; each chunk ends with the first value of the next."""
    sums = _Sums()
    for at in range(0, series.size, CHUNK):
        values = series[at : at + CHUNK + 1]
        residuals, steps = values - mean, values[1:] - values[:-1]
        np.abs(steps, out=steps)
        count, neighbours = min(CHUNK, series.size - at), steps.size
        if not complete:
            missing = np.isnan(values)
            residuals[missing], steps[missing[1:] | missing[:-1]] = 0.0, 0.0
            count -= int(np.count_nonzero(missing[:CHUNK]))
            neighbours = int(np.count_nonzero(~(missing[1:] | missing[:-1])))
        own = residuals[:CHUNK]
        sums.count += count
        sums.squares += dot(own, own)
        sums.neighbours += neighbours
        sums.steps += float(steps.sum())
        sums.products += dot(residuals[1:], residuals[:-1])
    return sums
