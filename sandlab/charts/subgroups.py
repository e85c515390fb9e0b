"""Subgroup charts: the mean with the range or the standard deviation, sizes alike or not.

A table holds one subgroup per row in the order of time and its tests in the columns; a missing test is NaN.
Repeats of one sample make subgroups too, but their spread is that of the test alone: the sand's own spread
from sample to sample has to come into the limits of the mean.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.constants import (
    LARGEST_SUBGROUP,
    c4,
    d2,
    d3,
    range_limit_factors,
    sigma_limit_factors,
)
from sandlab.charts.normal import Floats
from sandlab.charts.subgroup_rows import RowStats, Sizes, as_table
from sandlab.errors import InputError, Problem, impossible

MINIMUM_SUBGROUPS = 5
ENOUGH_SUBGROUPS = 20
LARGE_FOR_RANGES = 10

SubgroupBasis = Literal["range", "deviation", "pooled"]
Spread = Literal["range", "deviation"]
SubgroupFlag = Literal["constant", "few", "large", "between"]

SUBGROUP_FLAG_WORDS: dict[SubgroupFlag, str] = {
    "constant": "the tests within every subgroup are equal, so no limits can be drawn",
    "few": f"fewer than {ENOUGH_SUBGROUPS} subgroups: the limits are uncertain",
    "large": f"ranges of more than {LARGE_FOR_RANGES} tests waste information: pool the deviations",
    "between": "the subgroups differ by more than their tests do: chart them as repeats of one sample",
}


@dataclass(frozen=True, slots=True)
class SubgroupLimits:
    """Frozen figures of a baseline of subgroups, from which limits follow for any size.

    `sigma` is the spread of single tests within a subgroup, `freedom` its degrees of freedom (effective ones
    for ranges and deviations), `sigma_between` the spread of subgroup levels, 0 unless they are repeats.
    """

    centre: float
    sigma: float
    sigma_between: float
    freedom: float
    basis: SubgroupBasis
    subgroups: int
    count: int
    width: float = 3.0
    excluded: tuple[int, ...] = ()
    flags: tuple[SubgroupFlag, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether subgroups can be judged against these limits."""
        return self.sigma > 0.0

    def mean_limits(self, size: int) -> tuple[float, float]:
        """Lower and upper limit of the mean of `size` tests: centre +- width sqrt(between^2 + sigma^2/n)."""
        reach = self.width * math.sqrt(self.sigma_between**2 + self.sigma**2 / size)
        return self.centre - reach, self.centre + reach

    def range_limits(self, size: int) -> tuple[float, float, float]:
        """Lower limit, centre and upper limit of the range of `size` tests: D3, 1 and D4 times d2 sigma."""
        centre = d2(size) * self.sigma
        low, high = range_limit_factors(size, width=self.width)
        return low * centre, centre, high * centre

    def deviation_limits(self, size: int) -> tuple[float, float, float]:
        """Lower limit, centre, upper limit of the deviation of `size` tests: B3, 1 and B4 times c4 sigma."""
        centre = c4(size) * self.sigma
        low, high = sigma_limit_factors(size, width=self.width)
        return low * centre, centre, high * centre


@dataclass(frozen=True, slots=True, eq=False)
class SubgroupChart:
    """Mean and spread of each subgroup with their limits per slot; `sizes` counts its measured tests.

    A mean is NaN where no test was measured, a spread where fewer than two were; limits there are those of
    the largest size. The `_beyond` are the places outside their limits.
    """

    sizes: Sizes
    means: Floats
    mean_lower: Floats
    mean_upper: Floats
    mean_beyond: tuple[int, ...]
    spread: Spread
    spreads: Floats
    spread_lower: Floats
    spread_centre: Floats
    spread_upper: Floats
    spread_beyond: tuple[int, ...]


def freeze_subgroups(
    table: npt.ArrayLike,
    *,
    basis: SubgroupBasis = "pooled",
    repeats: bool = False,
    width: float = 3.0,
    excluded: Sequence[int] = (),
) -> SubgroupLimits:
    """Limits of subgroup charts from a baseline.

    ``centre = sum n_i m_i/sum n_i; sigma = sum w_i R_i/d2_i/sum w_i, w = d2^2/d3^2`` (range)
    ``sigma = sum w_i s_i/c4_i/sum w_i, w = c4^2/(1 - c4^2)`` (deviation); ``s_p/c4(nu + 1)`` (pooled)
    ``sigma_between^2 = (B - s_p^2)/n0, B = sum n_i (m_i - centre)^2/(k - 1)`` (repeats; else 0)

    s_p^2 = sum (n_i - 1) s_i^2/nu, nu = sum (n_i - 1), n0 = (N - sum n_i^2/N)/(k - 1). Subgroups of one test
    have a mean but no spread.

    table: one subgroup per row, NaN where no test is [unit of the property]
    basis: what sigma comes from, "range", "deviation" or "pooled" [word]
    repeats: rows are repeats of one sample: limits of the mean then hold the spread between rows [yes or no]
    width: distance of the limits from the centre, in standard deviations, above 0 [1]
    excluded: rows left out with an assignable cause, counted from 0 [1]
    returns: frozen limits with sigma, its degrees of freedom and flags [unit of the property]

    Shapes: two dimensions; MINIMUM_SUBGROUPS or more rows with a test, two of them with two or more.
    Validity: roughly normal tests, independent within a row; flags say constant, few, large, between.
    Errors: InputError with every problem at once: fewer rows, infinite values, a width of 0 or less, an
    excluded row that is not there.
    Example:
    >>> limits = freeze_subgroups([[1.0, 2.0], [2.0, 3.0], [1.5, 2.5], [2.0, 1.0], [2.0, 2.4]], basis="range")
    >>> round(limits.centre, 2), round(limits.sigma, 4)
    (1.94, 0.7799)

    Source: montgomery, sections 6.2 and 6.3; burr1969 for unequal sizes; searle1992 for sigma_between.
    """
    grid = as_table(table)
    kept = np.ones(grid.shape[0], dtype=np.bool_)
    kept[_inside(excluded, grid.shape[0])] = False
    stats = RowStats(grid[kept])
    _require_enough(stats, width)
    pooled, nu = stats.pooled()
    if basis == "pooled":
        sigma, freedom = math.sqrt(pooled) / _c4_of(nu), float(nu)
    elif basis == "range":
        sigma, freedom = _weighted(stats.ranges, stats.sizes, d2, lambda n: (d2(n) / d3(n)) ** 2)
    else:
        sigma, freedom = _weighted(stats.deviations, stats.sizes, c4, lambda n: c4(n) ** 2 / (1 - c4(n) ** 2))
    between = stats.between(pooled)
    return SubgroupLimits(
        centre=stats.centre,
        sigma=sigma,
        sigma_between=math.sqrt(between) if repeats else 0.0,
        freedom=freedom,
        basis=basis,
        subgroups=int(np.count_nonzero(stats.sizes)),
        count=int(stats.sizes.sum()),
        width=width,
        excluded=tuple(np.flatnonzero(~kept).tolist()),
        flags=_flags(stats, pooled, nu, basis, repeats),
    )


def subgroup_chart(
    table: npt.ArrayLike, limits: SubgroupLimits, *, spread: Spread = "deviation"
) -> SubgroupChart:
    """Mean and range (or standard deviation) of each row against frozen limits.

    Raises InputError for infinite values, limits of a constant baseline, and a table without two columns.
    """
    if not limits.usable:
        raise impossible("limits", SUBGROUP_FLAG_WORDS["constant"], "freeze a baseline whose tests vary")
    stats = RowStats(as_table(table))
    spreads = stats.ranges if spread == "range" else stats.deviations
    of_spread = limits.range_limits if spread == "range" else limits.deviation_limits
    largest = max(2, int(stats.sizes.max(initial=2)))
    drawn = np.where(stats.sizes > 0, stats.sizes, largest)
    mean_lower, mean_upper = _per_size(limits.mean_limits, drawn)
    lower, centre, upper = _per_size(of_spread, np.where(stats.sizes > 1, stats.sizes, largest))
    return SubgroupChart(
        sizes=stats.sizes,
        means=stats.means,
        mean_lower=mean_lower,
        mean_upper=mean_upper,
        mean_beyond=_beyond(stats.means, mean_lower, mean_upper),
        spread=spread,
        spreads=spreads,
        spread_lower=lower,
        spread_centre=centre,
        spread_upper=upper,
        spread_beyond=_beyond(spreads, lower, upper),
    )


def _weighted(
    spreads: Floats, sizes: Sizes, unbias: Callable[[int], float], weigh: Callable[[int], float]
) -> tuple[float, float]:
    """Sigma as the best weighted mean of the rows' spreads, and its effective degrees of freedom."""
    pairs = sizes > 1
    factors = {size: (unbias(size), weigh(size)) for size in np.unique(sizes[pairs]).tolist()}
    divisors, weights = np.array([factors[size] for size in sizes[pairs].tolist()]).T
    total = float(weights.sum())
    # Its variance is sigma^2/total; that of a deviation on nu degrees of freedom about 1/(2 nu - 1/2).
    return float(weights @ (spreads[pairs] / divisors)) / total, 0.5 * total + 0.25


def _c4_of(freedom: int) -> float:
    """c4 of a deviation on `freedom` degrees of freedom; its series beyond the largest subgroup."""
    if freedom < LARGEST_SUBGROUP:
        return c4(freedom + 1)
    return 1.0 - 1.0 / (4.0 * freedom) + 1.0 / (32.0 * freedom**2)


def _per_size(limits: Callable[[int], tuple[float, ...]], sizes: Sizes) -> tuple[Floats, ...]:
    """The limits of each slot, computed once per size."""
    unique, inverse = np.unique(sizes, return_inverse=True)
    # One row more than there are sizes, so that no slot at all still has its columns.
    rows = np.array([limits(size) for size in (2, *unique.tolist())])
    return tuple(rows[inverse + 1].T)


def _beyond(values: Floats, lower: Floats, upper: Floats) -> tuple[int, ...]:
    return tuple(np.flatnonzero((values > upper) | (values < lower)).tolist())


def _flags(
    stats: RowStats, pooled: float, nu: int, basis: SubgroupBasis, repeats: bool
) -> tuple[SubgroupFlag, ...]:
    if pooled == 0.0:
        return ("constant",)
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import fdtrc

    rows = int(np.count_nonzero(stats.sizes))
    flags: list[SubgroupFlag] = ["few"] if rows < ENOUGH_SUBGROUPS else []
    if basis == "range" and int(stats.sizes.max()) > LARGE_FOR_RANGES:
        flags.append("large")
    if not repeats and fdtrc(rows - 1, nu, stats.mean_square_between() / pooled) < 0.01:
        flags.append("between")
    return tuple(flags)


def _inside(excluded: Sequence[int], count: int) -> list[int]:
    wrong = [place for place in excluded if not 0 <= place < count]
    if wrong:
        raise impossible("excluded", f"no subgroup at {wrong[0]}", f"places run from 0 to {count - 1}")
    return list(excluded)


def _require_enough(stats: RowStats, width: float) -> None:
    problems = []
    rows, pairs = int(np.count_nonzero(stats.sizes)), int(np.count_nonzero(stats.sizes > 1))
    if rows < MINIMUM_SUBGROUPS:
        do = f"choose a window with at least {MINIMUM_SUBGROUPS}"
        problems.append(Problem("baseline", f"subgroups with a test: {rows}", do))
    elif pairs < 2:
        problems.append(Problem("baseline", f"subgroups of two or more tests: {pairs}", "give at least 2"))
    if not 0.0 < width < math.inf:
        problems.append(Problem("width", f"{width} standard deviations", "give a number above 0, usually 3"))
    if problems:
        raise InputError(problems)
