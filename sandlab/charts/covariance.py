"""Centre and covariance of several properties tested together, with missing tests and few samples.

A table holds one sample per row in the order of time and one property per column; a missing test is NaN.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.estimates import LARGEST
from sandlab.charts.normal import Floats
from sandlab.errors import InputError, Problem

Mask = npt.NDArray[np.bool_]

MINIMUM_SAMPLES = 8
LARGEST_NUMBER = 50
_ROUNDS = 500
_RIDGE = 1e-10
# Correlations are shrunk at least so far that no direction has less than this share of a plain one.
_LEAST_DIRECTION = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Scatter:
    """Centre and covariance, the samples' worth behind the centre and the degrees of freedom behind the rest.

    With holes both count what is there on average; `exact` tells whether the F law then holds exactly.
    """

    centre: Floats
    covariance: Floats
    count: float
    freedom: float
    exact: bool


def as_samples(values: npt.ArrayLike, names: Sequence[str], *, where: str = "samples") -> Floats:
    """`values` as one row of floats per sample; raises InputError for other shapes and infinite values."""
    matrix = np.asarray(values, dtype=np.float64)
    problems = []
    if matrix.ndim != 2 or matrix.shape[1] != len(names):
        what = f"shape {'x'.join(str(side) for side in matrix.shape)} for {len(names)} properties"
        problems.append(Problem(where, what, "give one row per sample, one column per property"))
    elif np.any(np.abs(matrix) >= LARGEST):
        row, column = np.argwhere(np.abs(matrix) >= LARGEST)[0].tolist()
        what = f"{names[column]} of sample {row + 1} is infinite or beyond {LARGEST:g}"
        problems.append(Problem(where, what, "correct or void that test"))
    if len(set(names)) != len(names) or not 2 <= len(names) <= LARGEST_NUMBER:
        do = f"name 2 to {LARGEST_NUMBER}, each once"
        problems.append(Problem("properties", ", ".join(names), do))
    if problems:
        raise InputError(problems)
    return matrix


def patterns_of(measured: Mask) -> tuple[Mask, npt.NDArray[np.intp]]:
    """The unlike rows of `measured`, and the number of its own for each row."""
    # As one number per row: far quicker to sort than rows, and exact for up to 50 properties.
    codes = measured @ 2.0 ** np.arange(measured.shape[1])
    _, first, group = np.unique(codes, return_index=True, return_inverse=True)
    return measured[first], group


def repeated_samples(matrix: Floats) -> tuple[tuple[int, ...], ...]:
    """Places of complete samples that equal each other in every property: entered twice, most likely."""
    complete = np.flatnonzero(~np.isnan(matrix).any(axis=1))
    if not complete.size:
        return ()
    _, inverse, counts = np.unique(matrix[complete], axis=0, return_inverse=True, return_counts=True)
    inverse = inverse.ravel()
    groups = [tuple(complete[inverse == group].tolist()) for group in np.flatnonzero(counts > 1)]
    return tuple(sorted(groups))


def sample_scatter(matrix: Floats) -> Scatter:
    """Mean and covariance (n - 1); with holes by expectation and maximisation (little_rubin2002)."""
    matrix = matrix[~np.isnan(matrix).all(axis=1)]
    holes = np.isnan(matrix)
    if not holes.any():
        centre, covariance = _plain(matrix)
        return Scatter(centre, covariance, matrix.shape[0], matrix.shape[0] - 1.0, exact=True)
    count = float(np.count_nonzero(~holes)) / matrix.shape[1]
    centre, covariance = _expectation_maximisation(matrix, holes)
    return Scatter(centre, covariance * count / (count - 1.0), count, count - 1.0, exact=False)


def difference_scatter(matrix: Floats) -> Scatter:
    """Covariance V'V/2k of the k steps V between neighbouring samples, which a shift of level hardly enters.

    Worth 2 k^2/(3 k - 1) degrees of freedom (sullivan_woodall1996). A sample with a hole takes no part.
    """
    steps = np.diff(matrix, axis=0)
    steps = steps[~np.isnan(steps).any(axis=1)]
    k = steps.shape[0]
    freedom = 2.0 * k * k / (3.0 * k - 1.0)
    count = float(np.count_nonzero(~np.isnan(matrix))) / matrix.shape[1]
    return Scatter(np.nanmean(matrix, axis=0), steps.T @ steps / (2.0 * k), count, freedom, exact=False)


def shrunk_scatter(matrix: Floats) -> Scatter:
    """Covariance whose correlations are drawn towards 0 as far as their own uncertainty asks.

    ``r*_ij = (1 - w) r_ij, w = sum var(r_ij)/sum r_ij^2`` over i < j (schaefer_strimmer2005); holes are left
    out pair by pair.
    """
    measured = ~np.isnan(matrix)
    centre = np.nanmean(matrix, axis=0)
    spread = np.nanstd(matrix, axis=0, ddof=1)
    z = np.where(measured, (matrix - centre) / spread, 0.0)
    both = measured.T.astype(np.float64) @ measured
    products = z[:, :, None] * z[:, None, :]
    together = measured[:, :, None] & measured[:, None, :]
    mean_product = products.sum(axis=0) / both
    residuals = np.where(together, products - mean_product, 0.0)
    correlation = mean_product * both / (both - 1.0)
    variances = both / (both - 1.0) ** 3 * (residuals**2).sum(axis=0)
    off = ~np.eye(matrix.shape[1], dtype=np.bool_)
    squares = float((correlation[off] ** 2).sum())
    shrink = min(1.0, float(variances[off].sum()) / squares) if squares > 0.0 else 1.0
    np.fill_diagonal(correlation, 1.0)
    least = float(np.linalg.eigvalsh(correlation)[0])
    if least < _LEAST_DIRECTION:
        shrink = max(shrink, (_LEAST_DIRECTION - least) / (1.0 - least))
    correlation = np.where(off, (1.0 - shrink) * correlation, 1.0)
    count = float(np.count_nonzero(measured)) / matrix.shape[1]
    return Scatter(centre, correlation * np.outer(spread, spread), count, count - 1.0, exact=False)


def _plain(matrix: Floats) -> tuple[Floats, Floats]:
    residuals = matrix - matrix[0]
    offset = residuals.mean(axis=0)
    residuals = residuals - offset
    return matrix[0] + offset, np.asarray(residuals.T @ residuals / (matrix.shape[0] - 1))


def _expectation_maximisation(matrix: Floats, holes: Mask) -> tuple[Floats, Floats]:
    """Maximum-likelihood mean and covariance (n in the denominator) of normal samples with holes."""
    unit = np.nanstd(matrix, axis=0)
    base = np.nanmean(matrix, axis=0)
    z = (matrix - base) / unit
    patterns, group = patterns_of(holes)
    mean, covariance = np.zeros(z.shape[1]), np.eye(z.shape[1])
    for _ in range(_ROUNDS):
        filled, extra = z.copy(), np.zeros_like(covariance)
        for number, hole in enumerate(patterns):
            if not hole.any():
                continue
            rows = np.flatnonzero(group == number)
            seen = ~hole
            # The ridge keeps two properties that say the same solvable until they are named.
            known = covariance[np.ix_(seen, seen)] + _RIDGE * np.eye(int(seen.sum()))
            weights = np.linalg.solve(known, covariance[np.ix_(seen, hole)])
            filled[np.ix_(rows, hole)] = mean[hole] + (z[np.ix_(rows, seen)] - mean[seen]) @ weights
            rest = covariance[np.ix_(hole, hole)] - covariance[np.ix_(hole, seen)] @ weights
            extra[np.ix_(hole, hole)] += rows.size * rest
        new_mean = filled.mean(axis=0)
        residuals = filled - new_mean
        new = (residuals.T @ residuals + extra) / z.shape[0]
        moved = float(np.abs(new - covariance).max() + np.abs(new_mean - mean).max())
        mean, covariance = new_mean, new
        if moved < 1e-9:
            break
    return base + unit * mean, covariance * np.outer(unit, unit)
