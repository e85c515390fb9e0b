"""Every rule against its definition, written out as loops, and against a pattern made for it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from sandlab.charts import (
    NELSON,
    RULES,
    WESTERN_ELECTRIC,
    Limits,
    completions,
    individuals,
    rule_set,
    signals,
)
from sandlab.charts.normal import Floats
from sandlab.charts.rules import Rule
from sandlab.errors import InputError

LIMITS = Limits(centre=0.0, sigma=1.0, count=100, sigma_overall=1.0, sigma_moving_range=1.0, lag1=0.0)


def completes(rule: Rule, values: Floats, last: int) -> bool:
    """The rule's definition at one point (Western Electric 1956; Nelson 1984), one point at a time."""
    window = values[max(0, last - rule.span + 1) : last + 1]
    full = window.size == rule.span
    point = values[last]
    steps = np.diff(window)
    match rule.pattern:
        case "limit":
            return bool(abs(point) > 3.0)
        case "side":
            up = point > rule.beyond and sum(v > rule.beyond for v in window) >= rule.need
            down = point < -rule.beyond and sum(v < -rule.beyond for v in window) >= rule.need
            return bool(up or down)
        case "trend":
            return full and (all(s > 0 for s in steps) or all(s < 0 for s in steps))
        case "alternating":
            return full and all(a * b < 0 for a, b in pairwise(steps))
        case "inner":
            return full and all(-1.0 < v < 1.0 for v in window)
        case "both_sides":
            return full and all(abs(v) > 1.0 for v in window) and bool(window.min() < 0.0 < window.max())


def flagged(values: Floats) -> dict[str, list[int]]:
    """Places flagged per rule by the engine."""
    return {
        key: sorted([*found.up.tolist(), *found.down.tolist(), *found.both.tolist()])
        for key, found in completions(values, LIMITS).items()
    }


@pytest.mark.parametrize("seed", range(40))
def test_engine_equals_definition_on_random_series(seed: int) -> None:
    """Random, drifting, rounded (ties) and gappy series: every rule flags what its definition flags."""
    random = np.random.default_rng(seed)
    values = random.normal(0.0, random.choice([0.6, 1.0, 1.6]), 400)
    if seed % 2:
        values = np.round(values * 2) / 2
    if seed % 3 == 1:
        values = np.cumsum(values) * 0.3
    if seed % 3 == 2:
        values[1::2] = -np.abs(values[1::2])
        values[::2] = np.abs(values[::2])
    if seed % 4 > 1:
        values[random.random(values.size) < 0.06] = np.nan
    expected = {
        key: [i for i in range(values.size) if completes(rule, values, i)] for key, rule in RULES.items()
    }
    assert flagged(values) == expected


def test_chunks_do_not_show() -> None:
    """A long series gives what its parts give, each read with the points before it."""
    values = np.random.default_rng(5).normal(size=100_000)
    whole = flagged(values)
    for start in range(0, values.size, 20_000):
        first = max(0, start - 20)
        part = flagged(values[first : start + 20_000])
        for key, places in part.items():
            shown = [place + first for place in places if place + first >= start]
            assert shown == [place for place in whole[key] if start <= place < start + 20_000]


PATTERNS = {
    "beyond_limit": [0.0, 3.5],
    "two_of_three_outer": [0.0, 2.5, 0.5, 2.5],
    "four_of_five_middle": [0.0, -1.5, -1.5, 0.2, -1.5, -1.5],
    "eight_one_side": [-0.1, 0.5, 0.2, 0.6, 0.1, 0.5, 0.4, 0.6, 0.3],
    "nine_one_side": [0.1, -0.5, -0.2, -0.6, -0.1, -0.5, -0.4, -0.6, -0.3, -0.7],
    "six_trend": [-0.8, -1.2, -0.9, -0.5, 0.1, 0.2, 0.9],
    "fourteen_alternating": [0.5, 0.5] + [-0.5, 0.5] * 6 + [-0.5],
    "fifteen_inner": [1.2] + [0.1, -0.5, 0.6, 0.2, -0.3] * 3,
    "eight_both_sides": [0.0, 1.5, -1.2, 1.4, 1.3, -1.1, -1.6, 1.2, 1.1],
}


@pytest.mark.parametrize("key", RULES)
def test_pattern_made_for_the_rule(key: str) -> None:
    """The last point completes the pattern, not one before it; without its first member it does not."""
    values = np.array(PATTERNS[key])
    assert flagged(values)[key] == [values.size - 1]
    found = next(signal for signal in signals(values, LIMITS) if signal.rule == key)
    assert len(found.members) == RULES[key].need
    assert found.members[-1] == values.size - 1
    if found.members[0] != values.size - 1:
        gap = values.copy()
        gap[found.members[0]] = np.nan
        assert flagged(gap)[key] == []


def test_ties_end_trends_and_alternation() -> None:
    """Two equal neighbours are neither a rise nor a turn."""
    assert flagged(np.array([0.0, 0.1, 0.2, 0.2, 0.3, 0.4, 0.5]))["six_trend"] == []
    alternating = np.array([0.5, -0.5] * 7)
    assert flagged(alternating)["fourteen_alternating"] == [13]
    alternating[6] = alternating[5]
    assert flagged(alternating)["fourteen_alternating"] == []


def test_points_on_a_line_are_beyond_nothing() -> None:
    """The limit, the two-sigma line and the centre belong to the inside."""
    for level in (3.0, 2.0, 1.0, 0.0):
        assert not any(flagged(np.full(20, level))[key] for key in ("beyond_limit",))
    assert flagged(np.full(20, 2.0))["two_of_three_outer"] == []
    assert flagged(np.full(20, 0.0))["nine_one_side"] == []


def test_sets_of_rules() -> None:
    """Western Electric has four rules, Nelson eight; an unknown name gets the nearest."""
    assert len(rule_set(WESTERN_ELECTRIC)) == 4
    assert len(rule_set(NELSON)) == 8
    with pytest.raises(InputError, match="did you mean 'nelson'"):
        rule_set("nelsen")
    with pytest.raises(InputError, match="did you mean 'six_trend'"):
        individuals([1.0], None, LIMITS, rules=["six_trends"])


def test_only_the_chosen_rules_run() -> None:
    """A rule that is switched off is not looked for."""
    values = np.full(20, 2.5)
    assert set(completions(values, LIMITS, rules=["six_trend"])) == {"six_trend"}
    assert signals(values, LIMITS, rules=["six_trend"]) == ()
