"""Average run length of the multivariate exponentially weighted moving average chart, and its design."""

from __future__ import annotations

import math

import numpy as np

from sandlab.charts.normal import Floats, density, nodes_between
from sandlab.charts.run_length.design import solve_limit
from sandlab.errors import InputError, Problem

COMPONENTS = (2, 30)
WEIGHTS = (0.02, 1.0)
LIMITS = (0.1, 150.0)
# Distances below it are as good as none; the law of a noncentral chi-square divides by them.
_NOWHERE = 1e-10


def mewma_run_length(components: int, weight: float, limit: float, *, shift: float = 0.0) -> float:
    """Mean number of independent normal samples until a multivariate EWMA passes its limit.

    ``L(q) = 1 + integral over 0 < u < H of L(u) c(u/r^2; p, ((1 - r)/r)^2 q)/r^2 du, H = h r/(2 - r)``
    ``L(a, b) = 1 + integral over x^2 + u < H of L(x, u) n((x - (1 - r) a)/r - shift)/r
    c(u/r^2; p - 1, ((1 - r)/r)^2 b)/r^2 dx du``, once the mean has shifted

    c is the density of noncentral chi-square, q the squared length of the average, a its part along the shift
    and b the squared length of the rest. Solved at Gauss-Legendre nodes in the roots of q and b and in the
    angle of a. The limit holds against the steady covariance from the start.

    components: p, properties charted together, 2 to 30 [1]
    weight: r of the newest sample, 0.02 to 1 [1]
    limit: h, of the squared distance, 0.1 to 150 [1]
    shift: Mahalanobis distance by which the mean moves, 0 or more [1]
    returns: average run length [samples]

    Shapes: scalars.
    Validity: known centre and covariance, independent normal samples, average at the centre to begin with. A
    shift takes a few seconds to solve for weights below 0.03.
    Errors: InputError outside those ranges.
    Example:
    >>> round(mewma_run_length(4, 0.1, 12.73), 1), round(mewma_run_length(4, 0.1, 12.73, shift=1.0), 2)
    (200.5, 12.15)

    Source: rigdon1995a, in control; rigdon1995, out of control.
    """
    _check(components, weight, limit, shift)
    reach = math.sqrt(limit * weight / (2.0 - weight))
    if shift == 0.0:
        return _in_control(components, weight, reach)
    return _shifted(components, weight, reach, shift)


def mewma_limit(components: int, weight: float, run_length: float) -> float:
    """Limit that makes a multivariate EWMA alarm once in `run_length` samples when nothing is wrong.

    ``root of log(L(h)/run_length)``, bracketed from below

    components: properties charted together, 2 to 30 [1]
    weight: of the newest sample, 0.02 to 1 [1]
    run_length: wanted between false alarms, 2 to 1000000 [samples]
    returns: limit of the squared distance [1]

    Shapes: scalars.
    Validity: as for `mewma_run_length`.
    Errors: InputError outside those ranges.
    Example:
    >>> round(mewma_limit(2, 0.1, 200.0), 6)
    8.633581

    Source: knoth2017, Table 2.
    """
    _check(components, weight, LIMITS[0], 0.0)

    def length(limit: float) -> float:
        return mewma_run_length(components, weight, limit)

    return solve_limit(length, run_length, first=LIMITS[0], step=2.0, last=LIMITS[1])


def _in_control(components: int, weight: float, reach: float) -> float:
    """Run length from the centre: the distance from it is a Markov chain by itself."""
    nodes, weights = nodes_between(0.0, reach, max(20, math.ceil(3.0 * reach / weight)))
    moves = _distance_density(nodes, nodes, components, weight) * weights
    lengths = np.linalg.solve(np.eye(nodes.size) - moves, np.ones(nodes.size))
    start = _distance_density(np.zeros(1), nodes, components, weight)[0] * weights
    return 1.0 + float(start @ lengths)


def _shifted(components: int, weight: float, reach: float, shift: float) -> float:
    """Run length from the centre: the part along the shift and the distance from that axis move together."""
    # So many nodes leave 1e-7 of a run length of a million, 1e-10 of one of hundreds.
    steps = reach / weight
    angles, angle_weights = nodes_between(-math.pi / 2, math.pi / 2, max(30, math.ceil(6.0 * steps)))
    shares, share_weights = nodes_between(0.0, 1.0, max(15, math.ceil(2.0 * steps)))
    # On the ball of radius `reach`: along = reach sin(angle), across = share reach cos(angle).
    width = reach * np.cos(angles)
    along = np.repeat(reach * np.sin(angles), shares.size)
    across = np.outer(width, shares).ravel()
    weights = np.outer(angle_weights * width * width, share_weights).ravel()

    def moves(a: Floats, b: Floats) -> Floats:
        straight = density((along[None, :] - (1.0 - weight) * a[:, None]) / weight - shift) / weight
        return np.asarray(straight * _distance_density(b, across, components - 1, weight) * weights)

    count = along.size
    lengths = np.linalg.solve(np.eye(count) - moves(along, across), np.ones(count))
    return 1.0 + float(moves(np.zeros(1), np.zeros(1))[0] @ lengths)


def _distance_density(before: Floats, after: Floats, components: int, weight: float) -> Floats:
    """Density of the next distance from the centre at `after` (columns) from that at `before` (rows).

    ``(after/r)^2 ~ noncentral chi-square`` on `components` degrees, noncentrality ``((1 - r) before/r)^2``
    """
    # Imported here: drawing a chart needs no scipy.
    from scipy.special import ive

    order = components / 2.0 - 1.0
    x = after[None, :] / weight
    centre = np.maximum((1.0 - weight) * before[:, None] / weight, _NOWHERE)
    bell = np.exp(-0.5 * (x - centre) ** 2) * ive(order, x * centre)
    return np.asarray(x * (x / centre) ** order * bell / weight)


def _check(components: int, weight: float, limit: float, shift: float) -> None:
    problems = []
    if not COMPONENTS[0] <= components <= COMPONENTS[1]:
        low, high = COMPONENTS
        problems.append(Problem("components", f"{components}", f"give a number from {low} to {high}"))
    if not WEIGHTS[0] <= weight <= WEIGHTS[1]:
        problems.append(Problem("weight", f"{weight}", f"give a value from {WEIGHTS[0]} to {WEIGHTS[1]}"))
    if not LIMITS[0] <= limit <= LIMITS[1]:
        problems.append(Problem("limit", f"{limit}", f"give a value from {LIMITS[0]} to {LIMITS[1]}"))
    if not 0.0 <= shift <= 100.0:
        problems.append(Problem("shift", f"{shift}", "give a distance from 0 to 100"))
    if problems:
        raise InputError(problems)
