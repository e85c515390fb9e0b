"""Hotelling's T2: several properties judged together, with what is measured of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.covariance import (
    MINIMUM_SAMPLES,
    Scatter,
    as_samples,
    difference_scatter,
    patterns_of,
    repeated_samples,
    sample_scatter,
    shrunk_scatter,
)
from sandlab.charts.normal import Floats
from sandlab.charts.robust_covariance import SAMPLES_PER_PROPERTY, robust_scatter
from sandlab.errors import InputError, Problem

Method = Literal["sample", "differences", "robust", "shrunk"]
Phase = Literal["monitoring", "baseline"]
MultivariateFlag = Literal["few", "holes", "repeated", "shrunk", "approximate"]

MULTIVARIATE_FLAG_WORDS: dict[MultivariateFlag, str] = {
    "few": "fewer than ten samples per property: the limits are uncertain",
    "holes": "samples with missing tests were filled in by their relations: the limits are approximate",
    "repeated": "some samples equal each other in every property: entered twice?",
    "shrunk": "too few complete samples for a robust covariance: relations were drawn towards none instead",
    "approximate": "the false-alarm rate is only roughly the one asked for",
}
# Beyond it a chance is as good as none, and its logarithm would run out of digits.
DEEPEST = 300.0
_SINGULAR = 1e-9


@dataclass(frozen=True, slots=True)
class MultivariateLimits:
    """Frozen centre and covariance of several properties, all fields plain.

    `count` is the samples' worth behind the centre, `freedom` that behind the covariance.
    """

    names: tuple[str, ...]
    centre: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    count: float
    freedom: float
    method: Method
    excluded: tuple[int, ...] = ()
    repeated: tuple[tuple[int, ...], ...] = ()
    flags: tuple[MultivariateFlag, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class HotellingChart:
    """T2 of each sample on its measured properties, as a chance so that all share one axis.

    `chance` is that of a larger T2 when nothing is wrong, `depth` its -log10, to be held against
    `depth_limit`; NaN where nothing was measured. `components` counts the measured properties.
    """

    values: Floats
    limits: MultivariateLimits
    statistic: Floats
    components: npt.NDArray[np.intp]
    chance: Floats
    depth: Floats
    depth_limit: float
    beyond: tuple[int, ...]


def freeze_multivariate(
    values: npt.ArrayLike, names: Sequence[str], *, method: Method = "sample", excluded: Sequence[int] = ()
) -> MultivariateLimits:
    """Centre and covariance of a baseline of several properties.

    ``S = V'V/(m - 1)`` (sample), ``V'V/2(m - 1)`` of successive differences, the densest samples (robust), or
    correlations drawn towards 0 (shrunk)

    values: one sample per row, NaN where a test is missing [unit of each property]
    names: of the properties, in the order of the columns [word]
    method: "sample", "differences" (resists shifts), "robust" (resists odd samples) or "shrunk" [word]
    excluded: rows left out with an assignable cause, counted from 0 [1]
    returns: frozen limits with repeated samples and flags [unit of each property]

    Shapes: two dimensions, two columns or more; more rows than columns, MINIMUM_SAMPLES at least.
    Validity: roughly normal, independent samples. Robust needs five complete samples per property, else it
    shrinks. At a nominal .0027 simulated alarms are .003 to .004 with 10 % holes, .004 (ten samples per
    property) to .011 (five) for robust, below .002 for shrunk.
    Errors: InputError with every problem at once: too few samples, a property without spread or tests, two
    that say the same, infinite values, an excluded row that is not there.
    Example:
    >>> rows = [[40.0, 3.1], [42.0, 3.3], [41.0, 3.3], [43.0, 3.4], [39.0, 3.0], [41.0, 3.2], [42.0, 3.5],
    ...         [40.0, 3.2]]
    >>> limits = freeze_multivariate(rows, ["compactability", "moisture"])
    >>> [round(value, 3) for value in limits.centre], round(limits.covariance[0][1], 4)
    ([41.0, 3.25], 0.1857)

    Source: tracy1992, phase I; sullivan_woodall1996 for differences; hubert2012; schaefer_strimmer2005.
    """
    matrix = as_samples(values, names, where="baseline")
    kept = _without(matrix, excluded)
    _require(kept, names, method)
    complete = kept[~np.isnan(kept).any(axis=1)]
    robust_fits = complete.shape[0] >= SAMPLES_PER_PROPERTY * len(names) and bool(
        np.all(complete.max(axis=0) > complete.min(axis=0))
    )
    if method == "sample":
        scatter = sample_scatter(kept)
    elif method == "differences":
        scatter = difference_scatter(kept)
    elif method == "robust" and robust_fits:
        scatter = robust_scatter(complete)
    else:
        scatter = shrunk_scatter(kept)
    _require_unlike(scatter, names)
    repeated = repeated_samples(matrix)
    return MultivariateLimits(
        names=tuple(names),
        centre=tuple(scatter.centre.tolist()),
        covariance=tuple(tuple(row) for row in scatter.covariance.tolist()),
        count=float(scatter.count),
        freedom=float(scatter.freedom),
        method="shrunk" if method == "robust" and not robust_fits else method,
        excluded=tuple(sorted(set(excluded))),
        repeated=repeated,
        flags=_flags(kept, scatter, bool(repeated), method, robust_fits),
    )


def hotelling(
    values: npt.ArrayLike, limits: MultivariateLimits, *, alarm: float = 0.0027, phase: Phase = "monitoring"
) -> HotellingChart:
    """T2 chart of several properties against frozen limits.

    ``T2 = d' S^-1 d over the measured properties; m T2 (f - p + 1)/((m + 1) f p) ~ F(p, f - p + 1)``
    ``m T2/(m - 1)^2 ~ Beta(p/2, (f - p)/2)``, f = m - 1, for the baseline's own samples ("sample" method)
    ``m T2/(m - 1) ~ chi2(p)``, nearly, for those of the other methods

    values: one sample per row, NaN where a test is missing [unit of each property]
    limits: frozen baseline of m samples and f degrees of freedom [unit of each property]
    alarm: chance of a false alarm per sample, above 0 and below 0.5 [1]
    phase: "monitoring" of later samples, or "baseline" for the samples the limits come from [word]
    returns: T2, its chance and depth -log10(chance) per sample, and where it is beyond [1]

    Shapes: two dimensions, the columns of the limits.
    Validity: independent samples; exact for complete baselines of the "sample" method, flagged otherwise. The
    own samples of successive differences alarm at .003 to .004 for .0027 (.007 with 8 properties on 40).
    Errors: InputError for other shapes, infinite values, an alarm out of range.
    Example:
    >>> limits = MultivariateLimits(("a", "b"), (0.0, 0.0), ((1.0, 0.8), (0.8, 1.0)), 50.0, 49.0, "sample")
    >>> chart = hotelling([[1.5, 1.5], [1.5, -1.5], [1.5, float("nan")]], limits)
    >>> chart.statistic.round(2).tolist(), chart.beyond
    ([2.5, 22.5, 2.25], (1,))

    Source: tracy1992, phases I and II; nist_handbook, 6.5.4.3.4.
    """
    matrix = as_samples(values, limits.names)
    if not 0.0 < alarm < 0.5:
        raise InputError(Problem("alarm", f"{alarm}", "give a chance above 0 and below 0.5, often 0.0027"))
    statistic, components = t2(matrix, limits)
    chance = _chance(statistic, components, limits, phase)
    with np.errstate(divide="ignore"):
        depth = np.minimum(-np.log10(chance), DEEPEST)
    beyond = tuple(np.flatnonzero(chance < alarm).tolist())
    return HotellingChart(matrix, limits, statistic, components, chance, depth, -math.log10(alarm), beyond)


def t2(matrix: Floats, limits: MultivariateLimits) -> tuple[Floats, npt.NDArray[np.intp]]:
    """T2 of each row over its measured properties, and their number; NaN where there is none."""
    centre, covariance = np.array(limits.centre), np.array(limits.covariance)
    measured = ~np.isnan(matrix)
    statistic = np.full(matrix.shape[0], np.nan)
    patterns, group = patterns_of(measured)
    for number, seen in enumerate(patterns):
        if seen.any():
            rows = np.flatnonzero(group == number)
            root = np.linalg.cholesky(covariance[np.ix_(seen, seen)])
            away = np.linalg.solve(root, (matrix[np.ix_(rows, seen)] - centre[seen]).T)
            statistic[rows] = (away * away).sum(axis=0)
    return statistic, np.count_nonzero(measured, axis=1)


def _chance(
    statistic: Floats, components: npt.NDArray[np.intp], limits: MultivariateLimits, phase: Phase
) -> Floats:
    """The chance of a larger T2 when nothing is wrong."""
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import betainc, chdtrc, fdtrc

    p = np.maximum(components, 1).astype(np.float64)
    m, f = limits.count, limits.freedom
    if phase == "monitoring":
        # Shrunk covariances may have fewer samples than properties.
        rest = np.maximum(f - p + 1.0, 1.0)
        return np.asarray(fdtrc(p, rest, statistic * m / (m + 1.0) * rest / (f * p)))
    if limits.method != "sample":
        return np.asarray(chdtrc(p, statistic * m / (m - 1.0)))
    share = np.clip(statistic * m / (m - 1.0) ** 2, 0.0, 1.0)
    return np.asarray(betainc(np.maximum(f - p, 1.0) / 2.0, p / 2.0, 1.0 - share))


def _without(matrix: Floats, excluded: Sequence[int]) -> Floats:
    """The samples but the excluded ones; they leave a gap, so that neighbours stay neighbours."""
    wrong = [place for place in excluded if not 0 <= place < matrix.shape[0]]
    if wrong:
        do = f"places run from 0 to {matrix.shape[0] - 1}"
        raise InputError(Problem("excluded", f"no sample at {wrong[0]}", do))
    kept = matrix.copy()
    kept[list(excluded)] = np.nan
    return kept


def _require(matrix: Floats, names: Sequence[str], method: Method) -> None:
    problems = []
    measured = ~np.isnan(matrix)
    together = measured.T.astype(np.intp) @ measured
    least = MINIMUM_SAMPLES if method in ("shrunk", "robust") else max(MINIMUM_SAMPLES, 2 * len(names) + 2)
    low, column = divmod(int(together.argmin()), len(names))
    if together[low, column] < least:
        pair = names[low] if low == column else f"{names[low]} with {names[column]}"
        do = f"choose a window with {least} or more, or leave one out"
        problems.append(Problem("baseline", f"{int(together[low, column])} samples of {pair}", do))
    else:
        spread = np.nanmax(matrix, axis=0) - np.nanmin(matrix, axis=0)
        for place in np.flatnonzero(spread == 0.0).tolist():
            problems.append(Problem("baseline", f"all tests of {names[place]} are equal", "leave it out"))
        steps = np.count_nonzero((measured[1:] & measured[:-1]).all(axis=1))
        if method == "differences" and steps < least:
            what = f"{steps} complete samples follow each other"
            problems.append(Problem("baseline", what, f"choose a window with {least} or more"))
    if problems:
        raise InputError(problems)


def _require_unlike(scatter: Scatter, names: Sequence[str]) -> None:
    """Raise when one property follows from the others, so that no relation between them can break."""
    spread = np.sqrt(np.diag(scatter.covariance))
    values, vectors = np.linalg.eigh(scatter.covariance / np.outer(spread, spread))
    if values[0] < _SINGULAR:
        involved = [names[place] for place in np.flatnonzero(np.abs(vectors[:, 0]) > 0.1).tolist()]
        what = f"{', '.join(involved)} follow from each other exactly"
        raise InputError(Problem("baseline", what, "leave one of them out"))


def _flags(
    matrix: Floats, scatter: Scatter, repeated: bool, method: Method, robust_fits: bool
) -> tuple[MultivariateFlag, ...]:
    holes = np.isnan(matrix) & ~np.isnan(matrix).all(axis=1, keepdims=True)
    raised: dict[MultivariateFlag, bool] = {
        "few": scatter.count < 10 * matrix.shape[1],
        "holes": bool(holes.any()),
        "repeated": repeated,
        "shrunk": method == "robust" and not robust_fits,
        "approximate": not scatter.exact,
    }
    return tuple(flag for flag, is_raised in raised.items() if is_raised)
