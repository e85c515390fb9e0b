"""How often an individuals chart of an autocorrelated property alarms when nothing is wrong."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sandlab.charts.normal import Floats, below, below_one, density, nodes_between
from sandlab.charts.run_length.estimated import baseline_errors
from sandlab.errors import InputError, Problem

LARGEST_PHI = 0.995
_REACH = 8.5


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
    phi: float,
    width: float = 3.0,
    *,
    shift: float = 0.0,
    baseline_count: int | None = None,
    signal_share: float = 1.0,
) -> AlarmRate:
    """Alarm rate of limits centre +- width sigma on a first-order autoregressive series.

    ``L(x) = 1 + integral over |y| < width of n(y; shift + phi (x - shift), 1 - phi^2) L(y) dy``
    ``ARL = 1 + integral over |y| < width of n(y; shift, 1) L(y) dy``, from the stationary law

    sigma is the marginal standard deviation; limits from moving ranges have sqrt(1 - phi) of the width. With
    noise of testing the integrals run over the signal, L times the chance that a test of it is inside. With
    `baseline_count` the centre and the overall sigma come from that many earlier values: means over the two
    estimates' normal approximation, of variances (1 + phi)/(1 - phi)/n and (1 + phi^2)/(1 - phi^2)/2n.

    phi: lag-1 autocorrelation of the signal, -0.995 to 0.995 [1]
    width: of the limits in sigmas, 0.5 to 6 [1]
    shift: of the mean, in sigmas [1]
    baseline_count: values in the baseline, None for known limits [1]
    signal_share: of the variance of tests that is the signal's, the rest being noise, 0 to 1 [1]
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
    check_individuals(phi, width, baseline_count, signal_share)
    if baseline_count is None:
        return known_limits(phi, shift - width, shift + width, signal_share)
    errors = baseline_errors(phi, baseline_count, signal_share=signal_share)
    sigma_mean = errors.sigma_mean - 0.5 * errors.sigma**2
    points, weights = np.polynomial.hermite_e.hermegauss(9)
    weights = weights / weights.sum()
    rates = np.zeros(3)
    for centre_z, centre_weight in zip(points, weights, strict=True):
        for sigma_z, sigma_weight in zip(points, weights, strict=True):
            half = width * max(0.05, sigma_mean + errors.sigma * float(sigma_z))
            offset = shift - errors.centre * float(centre_z)
            rate = known_limits(phi, offset - half, offset + half, signal_share)
            values = (rate.beyond_share, rate.opening_share, rate.average_run_length)
            rates += centre_weight * sigma_weight * np.array(values)
    return AlarmRate(*rates.tolist())


def moves_of_series(phi: float, low: float, high: float, signal_share: float = 1.0) -> tuple[Floats, Floats]:
    """Where test 1 leads among the nodes of the signal, and where each leads next, as long as none alarms."""
    root, noise = math.sqrt(signal_share), math.sqrt(1.0 - signal_share)
    step = math.sqrt(1.0 - phi * phi)
    if noise == 0.0:
        nodes, weights = nodes_between(low, high, max(32, math.ceil(6.0 * (high - low) / step)))
    else:
        # Nodes in deviations of the signal, as far as a test of it can still be inside.
        first = max(-_REACH, (low - _REACH * noise) / root)
        last = min(_REACH, (high + _REACH * noise) / root)
        finest = min(step, noise / root)
        nodes, weights = nodes_between(
            first, last, min(1200, max(48, math.ceil(4.0 * (last - first) / finest)))
        )
        weights = weights * (below((high - root * nodes) / noise) - below((low - root * nodes) / noise))
    moves = density((nodes[None, :] - phi * nodes[:, None]) / step) / step * weights
    return density(nodes) * weights, moves


def known_limits(phi: float, low: float, high: float, signal_share: float = 1.0) -> AlarmRate:
    """The rates for limits at `low` and `high` of a standard stationary series."""
    inside = below_one(high) - below_one(low)
    # Near-known states alarm at once; the equations below would divide by nothing.
    if inside < 1e-12:
        return AlarmRate(1.0, 0.0, 1.0)
    if signal_share == 0.0:
        phi, signal_share = 0.0, 1.0
    start, moves = moves_of_series(phi, low, high, signal_share)
    lengths = np.linalg.solve(np.eye(start.size) - moves, np.ones(start.size))
    # The chance that a point beyond follows one inside.
    leaving = 1.0 - moves.sum(axis=1)
    return AlarmRate(1.0 - inside, float(start @ leaving), 1.0 + float(start @ lengths))


def check_individuals(
    phi: float, width: float, baseline_count: int | None, signal_share: float = 1.0
) -> None:
    """Raise for settings out of range, all at once."""
    problems = []
    if not -LARGEST_PHI <= phi <= LARGEST_PHI:
        problems.append(Problem("phi", f"{phi}", f"give a value between -{LARGEST_PHI} and {LARGEST_PHI}"))
    if not 0.5 <= width <= 6.0:
        problems.append(Problem("width", f"{width} standard deviations", "give a value between 0.5 and 6"))
    if baseline_count is not None and baseline_count < 8:
        problems.append(Problem("baseline", f"{baseline_count} values", "give at least 8, or none at all"))
    if not 0.0 <= signal_share <= 1.0:
        problems.append(Problem("signal share", f"{signal_share}", "give a value from 0 to 1"))
    if problems:
        raise InputError(problems)
