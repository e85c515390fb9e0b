"""Average run length of run rules by an exact Markov chain over the zones of the chart."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from sandlab.charts.normal import Floats, below
from sandlab.charts.rules import RULES, Rule, chosen
from sandlab.errors import impossible

# The last points of each rule on each side, newest in the lowest bit, held down to what can still matter.
_State = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Chain:
    """Lines between the zones, and for each state and zone the next state, -1 for a signal."""

    lines: tuple[float, ...]
    moves: npt.NDArray[np.intp]


def rules_run_length(rules: Iterable[str], *, shift: float = 0.0, width: float = 3.0) -> float:
    """Mean number of independent normal tests until one of the rules is completed.

    ``L = 1 + Q L``, Q the moves between the states that do not signal, from the empty one

    A state is what the last points leave open of each rule; a test falls into one zone between the lines.

    rules: keys of rules that count points beyond a line on one side [word]
    shift: of the mean, in sigmas [1]
    width: of the control limits, in sigmas [1]
    returns: average run length [tests]

    Shapes: any number of keys; scalars.
    Validity: known centre and sigma, independent normal tests.
    Errors: InputError for no rule, an unknown one, or one that zones cannot count (trend, alternating, inner,
    both sides).
    Example:
    >>> round(rules_run_length(["beyond_limit", "two_of_three_outer"]), 2)
    225.44

    Source: champ_woodall1987, Table 1.
    """
    moves = moves_of_rules(rules, shift, width)
    return float(np.linalg.solve(np.eye(moves.shape[0]) - moves, np.ones(moves.shape[0]))[0])


def moves_of_rules(rules: Iterable[str], shift: float, width: float, *, scale: float = 1.0) -> Floats:
    """Where one test leads from each state, state 0 being empty; all lines are `scale` times as far out."""
    chain = _chain(tuple(sorted({rule.key for rule in chosen(rules)})), width)
    edges = below(np.array(chain.lines) * scale - shift)
    chances = np.diff(np.concatenate(([0.0], edges, [1.0])))
    moves = np.zeros((chain.moves.shape[0], chain.moves.shape[0]))
    for zone, chance in enumerate(chances):
        onward = chain.moves[:, zone]
        stays = np.flatnonzero(onward >= 0)
        np.add.at(moves, (stays, onward[stays]), chance)
    return moves


def zones_can_count(rules: Iterable[str]) -> bool:
    """Whether every rule counts points beyond a line on one side, so that the chain is exact."""
    return all(rule.pattern in ("limit", "side") for rule in chosen(rules))


@lru_cache(maxsize=32)
def _chain(keys: tuple[str, ...], width: float) -> _Chain:
    """Every reachable state of the chosen rules, breadth first from the empty one."""
    rules = [RULES[key] for key in keys]
    unfit = [rule.key for rule in rules if rule.pattern not in ("limit", "side")]
    if unfit or not rules:
        what = f"{', '.join(unfit)} cannot be counted by zones" if unfit else "none chosen"
        raise impossible("rules", what, "choose rules that count points beyond a line on one side")
    levels = {width if rule.pattern == "limit" else rule.beyond for rule in rules}
    lines = tuple(sorted({-level for level in levels} | levels))
    middles = [
        lines[0] - 1.0,
        *((a + b) / 2 for a, b in pairwise(lines)),
        lines[-1] + 1.0,
    ]
    empty: _State = (0,) * (2 * len(rules))
    places, queue, moves = {empty: 0}, [empty], []
    for state in queue:
        row = []
        for middle in middles:
            onward = _step(rules, state, middle, width)
            if onward is not None and onward not in places:
                places[onward] = len(queue)
                queue.append(onward)
            row.append(-1 if onward is None else places[onward])
        moves.append(row)
    return _Chain(lines, np.array(moves, dtype=np.intp))


def _step(rules: list[Rule], state: _State, value: float, width: float) -> _State | None:
    """The state after one more test at `value` sigmas, None when it completes a rule."""
    onward = []
    for place, past in enumerate(state):
        rule = rules[place // 2]
        line = width if rule.pattern == "limit" else rule.beyond
        hit = value > line if place % 2 == 0 else value < -line
        window = (past << 1 | hit) & ((1 << rule.span) - 1)
        if hit and window.bit_count() >= rule.need:
            return None
        onward.append(_still_open(window, rule))
    return tuple(onward)


def _still_open(window: int, rule: Rule) -> int:
    """The newest points of the window that a completion can still use: older ones follow too many misses."""
    misses = 0
    for age in range(rule.span - 1):
        misses += not window >> age & 1
        if misses > rule.span - rule.need:
            return window & ((1 << age) - 1)
    return window & ((1 << (rule.span - 1)) - 1)
