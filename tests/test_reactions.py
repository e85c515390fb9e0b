"""The reaction plan: which steps are due from the newest values and alarms."""

from __future__ import annotations

import pytest

from sandlab.reactions import past_reaction, triggered
from sandlab.specs import Reaction, Target, load

SPECS = load()
TARGETS = SPECS.systems["main"].targets


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (33.9, "past_reaction_low"),
        (33.99999999999999, ""),
        (34.0, ""),
        (42.0, ""),
        (50.0, ""),
        (50.00000000000001, ""),
        (50.1, "past_reaction_high"),
    ],
)
def test_limits_themselves_are_inside(value: float, says: str) -> None:
    """Exactly on the limit is still inside, also for a mean that misses it by its last binary digit."""
    assert past_reaction(value, TARGETS["compactability"]) == says


def test_a_value_past_its_limit_brings_the_plan() -> None:
    """Steps, who, by when, hold and whom to call."""
    (one,) = triggered(SPECS.reactions, TARGETS, newest={"compactability": 30.0, "moisture": 3.3}, alarms={})
    assert (one.key, one.hold, one.call) == ("compactability_low", True, "foundry_engineer")
    assert (one.value, one.limit) == (30.0, 34.0)
    assert one.steps
    assert one.within_min > 0


def test_without_an_entry_the_line_holds_all_the_same() -> None:
    """A plan that forgot a property must not let it pass."""
    (one,) = triggered({}, TARGETS, newest={"moisture": 9.0}, alarms={})
    assert one.hold
    assert one.steps
    assert one.key == ""


def test_a_plan_cannot_switch_the_hold_off() -> None:
    """hold = false concerns chart signals; past a reaction limit the line holds."""
    soft = Reaction(
        property="moisture",
        signal="past_reaction_high",
        steps=("wait",),
        who="anyone",
        within_min=5,
        hold=False,
    )
    target = Target(target=3.3, tolerance=0.4, reaction=(2.4, 4.4))
    (one,) = triggered({"soft": soft}, {"moisture": target}, newest={"moisture": 5.0}, alarms={})
    assert one.hold


def test_chart_alarms_react_only_where_the_plan_says() -> None:
    """An alarm without an entry is shown on the chart, nothing more."""
    plan = {
        "rising": Reaction(
            property="moisture", signal="above_limit", steps=("look",), who="technician", within_min=60
        )
    }
    found = triggered(plan, {}, newest={"moisture": 3.9}, alarms={"moisture": "up", "permeability": "down"})
    assert [one.key for one in found] == ["rising"]
    assert not found[0].hold
