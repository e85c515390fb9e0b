"""How often an individuals chart of an autocorrelated property alarms when nothing is wrong."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sandlab.charts.normal import Floats, below, below_one, density, nodes_between
from sandlab.charts.run_length.estimated import baseline_errors
from sandlab.errors import InputError, Problem

LARGEST_PHI = 0.995


@dataclass(frozen=True, slots=True)
class AlarmRate:
    """Share of points beyond the limits, share that open a run of such points, and average run length.

    With fixed limits the share of points beyond does not depend on the autocorrelation; alarms come in
    bunches, so the run length from one quiet start to the next alarm does.
    """

    beyond_share: float
    opening_share: float
    average_run_length: float


def individuals_alarm_rate_ar1(
    phi: float, width: float = 3.0, *, shift: float = 0.0, baseline_count: int | None = None
) -> AlarmRate:
    """Alarm rate of limits centre +- width sigma on a first-order autoregressive series.

    ``L(x) = 1 + integral over |y| < width of n(y; shift + phi (x - shift), 1 - phi^2) L(y) dy``
    ``ARL = 1 + integral over |y| < width of n(y; shift, 1) L(y) dy``, from the stationary law

    sigma is the marginal standard deviation; limits from moving ranges have sqrt(1 - phi) of the width. With
    `baseline_count` the centre and the overall sigma come from that many earlier values: means over the two
    estimates' normal approximation, of variances (1 + phi)/(1 - phi)/n and (1 + phi^2)/(1 - phi^2)/2n.

    phi: lag-1 autocorrelation, -0.995 to 0.995 [1]
    width: of the limits in sigmas, 0.5 to 6 [1]
    shift: of the mean, in sigmas [1]
    baseline_count: values in the baseline, None for known limits [1]
    returns: shares of tests beyond and opening a run beyond, and average run length [1 and tests]

    Shapes: scalars.
    Validity: normal values; with a baseline, shares within 6 % of simulation, and run lengths within 12 %
    of it, when n (1 - phi)/(1 + phi) is 30 or more.
    Errors: InputError outside those ranges.
    Example:
    >>> rate = individuals_alarm_rate_ar1(0.4, 3.09023, shift=1.0)
    >>> round(rate.average_run_length, 2)
    61.85

    Source: kramer_schmid2000, Table 1.
    """
    check_individuals(phi, width, baseline_count)
    if baseline_count is None:
        return known_limits(phi, shift - width, shift + width)
    errors = baseline_errors(phi, baseline_count)
    sigma_mean = errors.sigma_mean - 0.5 * errors.sigma**2
    points, weights = np.polynomial.hermite_e.hermegauss(9)
    weights = weights / weights.sum()
    rates = np.zeros(3)
    for centre_z, centre_weight in zip(points, weights, strict=True):
        for sigma_z, sigma_weight in zip(points, weights, strict=True):
            half = width * max(0.05, sigma_mean + errors.sigma * float(sigma_z))
            offset = shift - errors.centre * float(centre_z)
            rate = known_limits(phi, offset - half, offset + half)
            values = (rate.beyond_share, rate.opening_share, rate.average_run_length)
            rates += centre_weight * sigma_weight * np.array(values)
    return AlarmRate(*rates.tolist())


def moves_of_series(phi: float, low: float, high: float) -> tuple[Floats, Floats, Floats]:
    """Nodes between the limits, where test 1 leads among them, and where each leads next."""
    spread = math.sqrt(1.0 - phi * phi)
    count = max(32, math.ceil(6.0 * (high - low) / spread))
    nodes, weights = nodes_between(low, high, count)
    moves = density((nodes[None, :] - phi * nodes[:, None]) / spread) / spread * weights
    return nodes, density(nodes) * weights, moves


def known_limits(phi: float, low: float, high: float) -> AlarmRate:
    """The rates for limits at `low` and `high` of a standard stationary series."""
    inside = below_one(high) - below_one(low)
    # Near-known states alarm at once; the equations below would divide by nothing.
    if inside < 1e-12:
        return AlarmRate(1.0, 0.0, 1.0)
    nodes, start, moves = moves_of_series(phi, low, high)
    lengths = np.linalg.solve(np.eye(nodes.size) - moves, np.ones(nodes.size))
    spread = math.sqrt(1.0 - phi * phi)
    # The chance that a point beyond follows one inside.
    leaving = 1.0 - (below((high - phi * nodes) / spread) - below((low - phi * nodes) / spread))
    return AlarmRate(1.0 - inside, float(start @ leaving), 1.0 + float(start @ lengths))


def check_individuals(phi: float, width: float, baseline_count: int | None) -> None:
    """Raise for settings out of range, all at once."""
    problems = []
    if not -LARGEST_PHI <= phi <= LARGEST_PHI:
        problems.append(Problem("phi", f"{phi}", f"give a value between -{LARGEST_PHI} and {LARGEST_PHI}"))
    if not 0.5 <= width <= 6.0:
        problems.append(Problem("width", f"{width} standard deviations", "give a value between 0.5 and 6"))
    if baseline_count is not None and baseline_count < 8:
        problems.append(Problem("baseline", f"{baseline_count} values", "give at least 8, or none at all"))
    if problems:
        raise InputError(problems)
