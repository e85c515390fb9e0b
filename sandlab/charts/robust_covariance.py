"""Centre and covariance that a quarter of odd samples cannot pull, found without chance."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from sandlab.charts.covariance import Scatter
from sandlab.charts.normal import Floats

Places = npt.NDArray[np.intp]

KEPT_SHARE = 0.75
SAMPLES_PER_PROPERTY = 5
CUT = 0.975
_STEPS = 100
# Keeps subsets of equal or collinear samples solvable, in units of the properties' spread.
_RIDGE = 1e-11
_LEAST_SPREAD = 0.01


def robust_scatter(matrix: Floats) -> Scatter:
    """Reweighted minimum covariance determinant from deterministic starts; the samples must be complete.

    ``least det S over subsets of 3n/4 samples; then kept: d^2 <= p f/(f - p + 1) F(p, f - p + 1)`` at 97.5 %

    The starts come from tanh, rank, normal-score and spatial-sign correlations and from the half nearest to
    the medians; each is improved by steps that can only lower the determinant (hubert2012). From the densest
    subset on, samples are kept and the covariance of the f + 1 kept ones is taken in turn until both agree.
    The same samples give the same answer always, in any order and in any units.
    """
    count, p = matrix.shape
    scale, middle = _spreads(matrix), np.median(matrix, axis=0)
    z = (matrix - middle) / scale
    size = max(math.ceil(KEPT_SHARE * count), (count + p + 1) // 2)
    best = min((_concentrate(z, start, size) for start in _starts(z)), key=lambda found: found[0])
    centre, covariance, kept = _reweighted(z, best[1], best[2], size)
    covariance = covariance * np.outer(scale, scale)
    return Scatter(middle + scale * centre, covariance, float(kept), kept - 1.0, exact=False)


def _reweighted(z: Floats, centre: Floats, covariance: Floats, size: int) -> tuple[Floats, Floats, int]:
    """Centre and covariance of the samples within the 97.5 % distance of each other, and their number."""
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import chdtr, chdtri, fdtri

    p = z.shape[1]
    # What the tail that is cut off would have added to the covariance.
    widen = CUT / float(chdtr(p + 2, chdtri(p, 1.0 - CUT)))
    distances = _distances(z, centre, covariance)
    spread = float(np.median(distances)) / float(chdtri(p, 0.5))
    # With half of the samples equal the median says nothing of the spread.
    covariance = covariance * (spread if spread > _LEAST_SPREAD else 1.0)
    kept, before = size, -1
    for _ in range(_STEPS):
        freedom = kept - p
        cut = p * (kept - 1.0) / freedom * float(fdtri(p, freedom, CUT)) * (kept + 1.0) / kept
        inside = _distances(z, centre, covariance) <= cut
        kept = int(np.count_nonzero(inside))
        if kept == before:
            break
        before = kept
        centre, covariance = _moments(z[inside])
        covariance = covariance * widen
    return centre, covariance, kept


def _starts(z: Floats) -> list[Places]:
    """Places of the half of the samples that each start finds nearest."""
    from scipy.special import ndtri

    count = z.shape[0]
    ranks = _ranks(z)
    norms = np.sqrt((z * z).sum(axis=1))
    signs = z / np.where(norms > 0.0, norms, 1.0)[:, None]
    half = np.argsort(norms, kind="stable")[: (count + 1) // 2]
    shapes = [
        np.corrcoef(np.tanh(z), rowvar=False),
        np.corrcoef(ranks, rowvar=False),
        np.corrcoef(ndtri((ranks - 1.0 / 3.0) / (count + 1.0 / 3.0)), rowvar=False),
        signs.T @ signs,
        _moments(z[half])[1],
    ]
    return [_nearest_half(z, shape) for shape in shapes]


def _nearest_half(z: Floats, shape: Floats) -> Places:
    """The half nearest to the centre in the axes of `shape`, each axis measured by its median deviation."""
    axes = np.linalg.eigh(shape)[1]
    along = z @ axes
    along = (along - np.median(along, axis=0)) / _spreads(along)
    distances = (along * along).sum(axis=1)
    return np.argsort(distances, kind="stable")[: (z.shape[0] + 1) // 2]


def _concentrate(z: Floats, start: Places, size: int) -> tuple[float, Floats, Floats]:
    """Log determinant, centre and covariance of the densest `size` samples reached from `start`."""
    chosen = start
    for _ in range(_STEPS):
        centre, covariance = _moments(z[chosen])
        nearest = np.sort(np.argsort(_distances(z, centre, covariance), kind="stable")[:size])
        if np.array_equal(nearest, chosen):
            break
        chosen = nearest
    centre, covariance = _moments(z[chosen])
    return float(np.linalg.slogdet(covariance)[1]), centre, covariance


def _moments(z: Floats) -> tuple[Floats, Floats]:
    centre = z.mean(axis=0)
    residuals = z - centre
    covariance = residuals.T @ residuals / max(z.shape[0] - 1, 1)
    ridge = _RIDGE * (1.0 + float(np.diag(covariance).max()))
    return centre, np.asarray(covariance + ridge * np.eye(z.shape[1]))


def _distances(z: Floats, centre: Floats, covariance: Floats) -> Floats:
    """Squared distance of each sample from the centre, in the metric of the covariance."""
    away = np.linalg.solve(np.linalg.cholesky(covariance), (z - centre).T)
    return np.asarray((away * away).sum(axis=0))


def _spreads(columns: Floats) -> Floats:
    """Median deviation of each column in units of sigma; its deviation where more than half are equal."""
    from scipy.special import ndtri

    spreads = np.median(np.abs(columns - np.median(columns, axis=0)), axis=0) / float(ndtri(0.75))
    spreads = np.where(spreads > 0.0, spreads, columns.std(axis=0))
    return np.asarray(np.where(spreads > 0.0, spreads, 1.0))


def _ranks(columns: Floats) -> Floats:
    """Rank of each value in its column from 1, equal values sharing their mean rank."""
    ranks = np.empty_like(columns)
    for place, column in enumerate(columns.T):
        _, inverse, counts = np.unique(column, return_inverse=True, return_counts=True)
        ranks[:, place] = (np.cumsum(counts) - (counts - 1) / 2.0)[inverse]
    return ranks
