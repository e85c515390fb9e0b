"""The multivariate exponentially weighted moving average: small lasting shifts of properties together."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.covariance import Mask, as_samples
from sandlab.charts.multivariate import MultivariateLimits
from sandlab.charts.normal import Floats
from sandlab.charts.run_length.mewma import mewma_limit
from sandlab.errors import InputError, Problem

# Rows whose covariances are kept at a time.
_CHUNK = 4096


@dataclass(frozen=True, slots=True, eq=False)
class MewmaChart:
    """Average of each property and their joint squared distance from the centre, per slot.

    A missing test leaves the average of its property as it was; before its first test a property takes no
    part. `beyond` are the places of samples with a measured property whose distance passes the limit.
    """

    values: Floats
    limits: MultivariateLimits
    average: Floats
    statistic: Floats
    limit: float
    weight: float
    beyond: tuple[int, ...]


def mewma(
    values: npt.ArrayLike,
    limits: MultivariateLimits,
    *,
    weight: float = 0.1,
    run_length: float = 370.4,
    limit: float | None = None,
    steady_limits: bool = False,
) -> MewmaChart:
    """Multivariate EWMA of several properties around their frozen centre.

    ``z_t = z_t-1 + R_t (x_t - z_t-1), z_0 = centre; distance = (z_t - centre)' V_t^-1 (z_t - centre)``
    ``V_t = (I - R_t) V_t-1 (I - R_t) + R_t S R_t``, R_t = r for a measured property, 0 for a missing one

    Steady limits use V = r/(2 - r) S throughout, as the published run lengths do.

    values: one sample per row, NaN where a test is missing [unit of each property]
    limits: frozen baseline, of which centre and covariance S are used [unit of each property]
    weight: r of the newest sample, 0.02 to 1 [1]
    run_length: wanted between false alarms, 2 to 1000000; finds the limit [samples]
    limit: of the squared distance instead, above 0 [1]
    steady_limits: V as in the long run from the start [yes or no]
    returns: averages, their squared distance per slot, and where it passes the limit [1]

    Shapes: two dimensions, the columns of the limits.
    Validity: independent samples of known centre and covariance: fewer than some hundred baseline samples
    alarm more often than asked, and so do autocorrelated ones.
    Errors: InputError for other shapes, infinite values, settings out of range.
    Example:
    >>> limits = MultivariateLimits(("a", "b"), (0.0, 0.0), ((1.0, 0.5), (0.5, 1.0)), 500.0, 499.0, "sample")
    >>> chart = mewma([[1.0, 1.0], [1.0, float("nan")], [2.0, 1.0]], limits, run_length=200.0)
    >>> chart.average.round(3).tolist(), round(chart.limit, 2)
    ([[0.1, 0.1], [0.19, 0.1], [0.371, 0.19]], 8.63)

    Source: lowry1992, the chart; limit by rigdon1995a.
    """
    matrix = as_samples(values, limits.names)
    found = mewma_limit(len(limits.names), weight, run_length) if limit is None else limit
    if not 0.0 < found < math.inf or not 0.0 < weight <= 1.0:
        problems = (
            [Problem("limit", f"{found}", "give a value above 0")] if not 0.0 < found < math.inf else []
        )
        if not 0.0 < weight <= 1.0:
            problems.append(Problem("weight", f"{weight}", "give a value above 0 and up to 1, often 0.1"))
        raise InputError(problems)
    measured = ~np.isnan(matrix)
    away = np.where(measured, matrix - np.array(limits.centre), 0.0)
    average = _averages(away, measured, weight)
    covariance = np.array(limits.covariance)
    if steady_limits:
        root = np.linalg.cholesky(covariance * weight / (2.0 - weight))
        statistic = (np.linalg.solve(root, average.T) ** 2).sum(axis=0)
    else:
        statistic = _distances(average, measured, covariance, weight)
    beyond = np.flatnonzero(measured.any(axis=1) & (statistic > found))
    centred = average + np.array(limits.centre)
    return MewmaChart(matrix, limits, centred, statistic, found, weight, tuple(beyond.tolist()))


def _averages(away: Floats, measured: Mask, weight: float) -> Floats:
    """The average of each property's distances from its centre, kept over missing tests."""
    average = np.empty_like(away)
    current = np.zeros(away.shape[1])
    for place, pull in enumerate(weight * measured):
        current = current + pull * (away[place] - current)
        average[place] = current
    return average


def _distances(average: Floats, measured: Mask, covariance: Floats, weight: float) -> Floats:
    """Squared distance of each average from the centre in the metric of its own covariance."""
    statistic = np.empty(average.shape[0])
    current = np.zeros_like(covariance)
    unseen = np.ones(average.shape[1], dtype=np.bool_)
    for start in range(0, average.shape[0], _CHUNK):
        part = slice(start, start + _CHUNK)
        metrics = np.empty((average[part].shape[0], *covariance.shape))
        for place, seen in enumerate(measured[part]):
            keep, pull = 1.0 - weight * seen, weight * seen
            current = keep[:, None] * current * keep + pull[:, None] * covariance * pull
            unseen &= ~seen
            # A property not yet measured stands at its centre: any variance keeps it out.
            metrics[place] = current + np.diag(unseen) if unseen.any() else current
        away = average[part][:, :, None]
        statistic[part] = (away * np.linalg.solve(metrics, away)).sum(axis=(1, 2))
    return statistic
