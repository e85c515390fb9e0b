"""Average run length of an individuals chart watched together with its moving-range chart."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from sandlab.charts.constants import d2, range_limit_factors
from sandlab.charts.normal import Floats, density, nodes_between
from sandlab.errors import InputError, Problem

WIDTHS = (0.5, 6.0)
RANGE_WIDTHS = (0.5, 20.0)
# On panels of at most one sigma, twelve nodes are right to eleven digits.
_NODES, _PANEL = 12, 1.0


def moving_range_run_length(
    width: float = 3.0, *, range_width: float | None = None, shift: float = 0.0
) -> float:
    """Mean number of independent normal tests until an individuals or its moving-range chart alarms.

    ``L(x) = 1 + integral of n(u; shift, 1) L(u) du over |u| < width, |u - x| < range width``
    ``ARL = 1 + integral over |u| < width of n(u; shift, 1) L(u) du``

    L has kinks where an end of the range meets a limit; between them it is solved at Gauss-Legendre nodes.

    width: of the limits of single values, in sigmas, 0.5 to 6 [1]
    range_width: limit of the moving range in sigmas, 0.5 to 20; None for its usual one at `width` [1]
    shift: of the mean, in sigmas [1]
    returns: average run length [tests]

    Shapes: scalars.
    Validity: known centre and sigma, independent normal tests.
    Errors: InputError outside those ranges.
    Example:
    >>> round(moving_range_run_length(2.0, range_width=3.0, shift=2.0), 4)
    1.9989

    Source: crowder1987b, output listing 1 (whose quadrature is right to two or three digits).
    """
    reach = usual_reach(width) if range_width is None else range_width
    check_moving_range(width, reach, shift)
    first, moves = moves_of_moving_range(width, reach, shift)
    return 1.0 + float(first @ np.linalg.solve(np.eye(first.size) - moves, np.ones(first.size)))


def moves_of_moving_range(width: float, reach: float, shift: float) -> tuple[Floats, Floats]:
    """Where test 1 leads among the nodes, and where each leads next."""
    edges = _edges(width, reach)
    panels = [nodes_between(low, high, _NODES) for low, high in pairwise(edges)]
    nodes = np.concatenate([panel[0] for panel in panels])
    weights = np.concatenate([panel[1] for panel in panels])
    moves = [_weights_near(x, edges, reach, weights, nodes, shift) for x in nodes.tolist()]
    return density(nodes - shift) * weights, np.array(moves)


def _edges(width: float, reach: float) -> list[float]:
    """The panels' ends: every place that lies whole range widths from a limit, and enough between them."""
    kinks = {-width, width}
    for step in range(1, math.floor(2.0 * width / reach) + 1):
        kinks |= {width - step * reach, step * reach - width}
    ends = sorted(kink for kink in kinks if -width <= kink <= width)
    edges = [ends[0]]
    for end in ends[1:]:
        # Kinks that agree but for rounding are one.
        if end - edges[-1] > 1e-9:
            parts = math.ceil((end - edges[-1]) / _PANEL)
            edges += np.linspace(edges[-1], end, parts + 1)[1:].tolist()
    return edges


def _weights_near(
    x: float, edges: list[float], reach: float, weights: Floats, nodes: Floats, shift: float
) -> Floats:
    """What each node counts in the integral over the values within `reach` of `x`."""
    row = np.zeros(nodes.size)
    for panel, (low, high) in enumerate(pairwise(edges)):
        inside = slice(panel * _NODES, (panel + 1) * _NODES)
        first, last = max(low, x - reach), min(high, x + reach)
        if first >= last:
            continue
        if (first, last) == (low, high):
            row[inside] = density(nodes[inside] - shift) * weights[inside]
        else:
            row[inside] = _part(first, last, low, high, shift)
    return row


def _part(first: float, last: float, low: float, high: float, shift: float) -> Floats:
    """What each node of a panel counts in the integral over a part of it, by the polynomial through them."""
    legendre = np.polynomial.legendre
    points, weights = nodes_between(first, last, _NODES)
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    own = (nodes_between(low, high, _NODES)[0] - middle) / half
    through = np.linalg.inv(legendre.legvander(own, _NODES - 1))
    at_points = legendre.legvander((points - middle) / half, _NODES - 1) @ through
    return np.asarray((density(points - shift) * weights) @ at_points)


def usual_reach(width: float) -> float:
    """The usual limit of the moving range, in sigmas, beside limits `width` sigmas from the centre."""
    return d2(2) * range_limit_factors(2, width=width)[1]


def check_moving_range(width: float, reach: float, shift: float) -> None:
    """Raise for settings out of range, all at once."""
    problems = []
    if not WIDTHS[0] <= width <= WIDTHS[1]:
        problems.append(Problem("width", f"{width}", f"give a value from {WIDTHS[0]} to {WIDTHS[1]}"))
    if not RANGE_WIDTHS[0] <= reach <= RANGE_WIDTHS[1]:
        low, high = RANGE_WIDTHS
        problems.append(Problem("moving-range limit", f"{reach}", f"give a value from {low} to {high}"))
    if not math.isfinite(shift):
        problems.append(Problem("shift", f"{shift}", "give a finite value"))
    if problems:
        raise InputError(problems)
