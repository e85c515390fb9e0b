"""Run rules and limits against an independent library (PyPI shewhart, its definitions after Nelson 1984)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sandlab.charts import RULES, completions, freeze

shewhart = pytest.importorskip("shewhart", reason="shewhart is not installed: pip install sandlab[oracles]")
pytestmark = pytest.mark.oracles

# Our key and theirs. Their eighth rule takes points on one side too, ours as Nelson's picture only on both.
ALIKE = {
    "beyond_limit": "nelson_1",
    "nine_one_side": "nelson_2",
    "six_trend": "nelson_3",
    "fourteen_alternating": "nelson_4",
    "two_of_three_outer": "nelson_5",
    "four_of_five_middle": "nelson_6",
    "fifteen_inner": "nelson_7",
}


def series(seed: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """A calm start, a drift, a quiet stretch and a stretch of turns, so that each rule speaks."""
    random = np.random.default_rng(seed)
    parts = [
        random.normal(50.0, 0.2, 5),
        random.normal(50.0, 2.0, 200),
        50.0 + np.cumsum(random.normal(0.05, 0.4, 80)),
        random.normal(50.0, 0.5, 60),
        50.0 + np.where(np.arange(60) % 2, 1.0, -1.0) * random.uniform(0.5, 4.0, 60),
    ]
    return np.concatenate(parts)


@pytest.mark.parametrize("seed", range(6))
def test_the_same_points_make_up_the_same_patterns(seed: int) -> None:
    """They name every member of a pattern, we the point that completes it: the members are the same."""
    values = series(seed)
    limits = freeze(values, basis="moving_range")
    theirs = shewhart.imr(values, rules="nelson")
    found = completions(values, limits, rules=list(ALIKE))
    for key, other in ALIKE.items():
        members: set[int] = set()
        for places, high in ((found[key].up, True), (found[key].down, False), (found[key].both, True)):
            for place in places.tolist():
                members |= set(_members(key, place, values, limits.line, high=high))
        expected = {
            point for one in theirs.signals if one.rule == other and one.chart == "i" for point in one.points
        }
        assert members == expected, key


def _members(
    key: str,
    place: int,
    values: np.ndarray[tuple[int], np.dtype[np.float64]],
    line: Callable[[float], float],
    *,
    high: bool,
) -> list[int]:
    """The points of the pattern that ends at a place."""
    rule = RULES[key]
    window = range(max(0, place - rule.span + 1), place + 1)
    if rule.need == rule.span:
        return list(window)
    level = line(rule.beyond if high else -rule.beyond)
    return [one for one in window if (values[one] > level if high else values[one] < level)]


def test_the_limits_are_the_same() -> None:
    """From moving ranges; they may take d2 as printed, 1.128 for 1.12838."""
    values = series(1)
    limits, theirs = freeze(values, basis="moving_range"), shewhart.imr(values, rules="none")
    assert theirs.stats["i_center"] == pytest.approx(limits.centre, rel=1e-12)
    assert theirs.stats["sigma_within"] == pytest.approx(limits.sigma, rel=4e-4)
