"""Average run length of cumulative sum charts, and their design."""

from __future__ import annotations

import math

import numpy as np

from sandlab.charts.normal import Floats, below, density, nodes_between
from sandlab.charts.run_length.design import solve_limit
from sandlab.errors import InputError, Problem

DECISIONS = (0.1, 100.0)


def cusum_run_length(
    reference: float, decision: float, *, shift: float = 0.0, head_start: float = 0.0, sides: int = 2
) -> float:
    """Mean number of independent normal tests until a tabular CUSUM passes its decision interval.

    ``L(s) = 1 + F(k - shift - s) L(0) + integral from 0 to h of n(u - s + k - shift) L(u) du``, one upper sum
    ``(L+(s) L-(0) + L+(0) L-(s) - L+(0) L-(0)) / (L+(0) + L-(0))``, both sums

    Unknown at 0 and at Gauss-Legendre nodes.

    reference: k, in sigmas, 0 to 10 [1]
    decision: h, in sigmas, 0.1 to 100 [1]
    shift: of the mean, in sigmas [1]
    head_start: s, first value of the sums, in sigmas, 0 to below h, of two sums to below h/2 + k [1]
    sides: 1 for the upper sum alone, 2 for both [1]
    returns: average run length [tests]

    Shapes: scalars.
    Validity: known centre and sigma, independent normal tests.
    Errors: InputError outside those ranges.
    Example:
    >>> round(cusum_run_length(0.5, 4.0, shift=1.0), 2)
    8.38

    Source: lucas_crosier1982, Table 1; vance1986, Table 1.
    """
    check_cusum(reference, decision, head_start, sides)
    upper, upper_zero = _one_sided(reference, decision, shift, head_start)
    if sides == 1:
        return upper
    lower, lower_zero = _one_sided(reference, decision, -shift, head_start)
    together = upper * lower_zero + upper_zero * lower - upper_zero * lower_zero
    return together / (upper_zero + lower_zero)


def cusum_decision(
    reference: float, run_length: float, *, head_start_share: float = 0.0, sides: int = 2
) -> float:
    """Decision interval that makes a CUSUM alarm once in `run_length` tests when nothing is wrong.

    ``root of log(L(h)/run_length)``, bracketed from below

    reference: k, in sigmas, 0 to 10 [1]
    run_length: wanted between false alarms, 2 to 1000000 [tests]
    head_start_share: head start as a share of h, 0 to below 1; 0.5 is usual [1]
    sides: 1 for the upper sum alone, 2 for both [1]
    returns: decision interval in sigmas [1]

    Shapes: scalars.
    Validity: as for `cusum_run_length`.
    Errors: InputError outside those ranges.
    Example:
    >>> round(cusum_decision(0.5, 168.0), 1)
    4.0

    Source: lucas_crosier1982, Table 1.
    """

    def length(decision: float) -> float:
        return cusum_run_length(reference, decision, head_start=head_start_share * decision, sides=sides)

    return solve_limit(
        length, run_length, first=DECISIONS[0], step=decision_step(reference), last=DECISIONS[1]
    )


def decision_step(reference: float) -> float:
    """A step of the decision interval that makes the run length about e times as long."""
    return min(4.0, max(0.5, 0.5 / max(reference, 1e-3)))


def cusum_reference(shift: float) -> float:
    """The reference value that finds a shift of the mean soonest.

    ``k = shift/2``

    shift: to be found, in sigmas [1]
    returns: reference value in sigmas [1]

    Shapes: scalars.
    Validity: independent normal tests.
    Errors: none.
    Example:
    >>> cusum_reference(1.0)
    0.5

    Source: montgomery, section 9.1.
    """
    return abs(shift) / 2.0


def crosier_run_length(reference: float, decision: float, *, shift: float = 0.0) -> float:
    """Mean number of independent normal tests until Crosier's two-sided CUSUM passes its decision interval.

    ``L(s) = 1 + P(|s + x| <= k) L(0) + integral over 0 < |u| < h of n(u + k sign(u) - s - shift) L(u) du``

    Its one sum moves by each test and is then drawn towards 0 by k, to 0 from within k of it.

    reference: k, in sigmas, 0 to 10 [1]
    decision: h, in sigmas, 0.1 to 100 [1]
    shift: of the mean, in sigmas [1]
    returns: average run length [tests]

    Shapes: scalars.
    Validity: known centre and sigma, independent normal tests.
    Errors: InputError outside those ranges.
    Example:
    >>> round(crosier_run_length(0.5, 3.73, shift=1.0), 2)
    7.92

    Source: crosier1986, Table 3.
    """
    check_cusum(reference, decision, 0.0, 2)
    half, half_weights = nodes_between(0.0, decision, _count(decision))
    nodes = np.concatenate(([0.0], half, -half))
    landing = nodes + reference * np.sign(nodes) - shift
    moves = density(landing[None, :] - nodes[:, None]) * np.concatenate(([0.0], half_weights, half_weights))
    moves[:, 0] = below(reference - nodes - shift) - below(-reference - nodes - shift)
    return float(np.linalg.solve(np.eye(nodes.size) - moves, np.ones(nodes.size))[0])


def _one_sided(reference: float, decision: float, shift: float, start: float) -> tuple[float, float]:
    """Run length of the upper sum from `start` and from 0."""
    from_start, from_zero, moves = moves_of_sum(reference, decision, shift, start)
    lengths = np.linalg.solve(np.eye(from_zero.size) - moves, np.ones(from_zero.size))
    return 1.0 + float(from_start @ lengths), float(lengths[0])


def moves_of_sum(
    reference: float, decision: float, shift: float, start: float
) -> tuple[Floats, Floats, Floats]:
    """Where one test leads from the start, from 0 and from each node; 0 is the first node."""
    positive, positive_weights = nodes_between(0.0, decision, _count(decision))
    nodes = np.concatenate(([0.0], positive))
    weights = np.concatenate(([0.0], positive_weights))
    drift = reference - shift
    before = np.concatenate(([start], nodes))
    chances = density(nodes[None, :] - before[:, None] + drift) * weights
    chances[:, 0] = below(drift - before)
    return chances[0], chances[1], chances[1:]


def _count(decision: float) -> int:
    """Nodes on the decision interval: four per sigma of one step leave errors below 1e-10."""
    return max(32, math.ceil(4.0 * decision))


def check_cusum(reference: float, decision: float, head_start: float, sides: int) -> None:
    """Raise for settings out of range, all at once."""
    problems = []
    if not 0.0 <= reference <= 10.0:
        problems.append(Problem("reference value", f"{reference}", "give a value from 0 to 10"))
    if not DECISIONS[0] <= decision <= DECISIONS[1]:
        low, high = DECISIONS
        problems.append(Problem("decision interval", f"{decision}", f"give a value from {low} to {high}"))
    # With a larger one both sums could alarm at once.
    elif not 0.0 <= head_start < (decision if sides == 1 else min(decision, 0.5 * decision + reference)):
        do = "give 0 or more, below the interval, and for two sums below half of it plus the reference"
        problems.append(Problem("head start", f"{head_start}", do))
    if sides not in (1, 2):
        problems.append(Problem("sides", f"{sides}", "give 1 or 2"))
    if problems:
        raise InputError(problems)
