"""Advice, release, acknowledgement, override, and what the operator reads."""

from __future__ import annotations

import pytest

from sandlab.errors import InputError
from sandlab.lab.advising import acknowledge, advise, latest_advice, muller, override, release
from sandlab.lab.batches import log_batch
from sandlab.lab.opening import Lab
from tests.lab.conftest import Clock, Log
from tests.lab.test_entry import HOUR

FULL = HOUR | {"active_clay": "7.4", "volatiles": "1.7", "fixed_carbon": "1.5", "inert_fines": "3.0"}


def kg(lab: Lab) -> dict[str, float]:
    """What the muller screen shows."""
    return {one.feeder: one.kg for one in muller(lab).additions}


def test_nothing_is_shown_before_a_technician_releases_it(lab: Lab, log: Log) -> None:
    """Computed is not released; the operator is told to keep the settings and ask."""
    log(**FULL)
    facts = advise(lab, by="JV")
    assert facts.additions
    assert muller(lab).additions == ()
    assert muller(lab).state == "check"
    assert "no additions released yet" in " ".join(muller(lab).reasons)
    release(lab, recommendation=facts.recommendation, by="JV")
    assert kg(lab) == {one.feeder: one.kg for one in facts.additions}
    assert muller(lab).released_by == "JV"


def test_the_change_is_against_what_the_operator_set_before(lab: Lab, log: Log, clock: Clock) -> None:
    """First release: against the reference; the next one: against the first, once that is acknowledged."""
    log(**FULL)
    first = release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    for one in first.additions:
        reference = lab.sand.feeders[one.feeder].reference_kg
        assert one.change_kg == pytest.approx(one.kg - reference)
    acknowledge(lab, by="AK")
    clock.move(minutes=60)
    log(**FULL | {"compactability": "37", "moisture": "2.9"})
    clock.move(minutes=1)
    second = release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    before = {one.feeder: one.kg for one in first.additions}
    for one in second.additions:
        assert one.change_kg == pytest.approx(one.kg - before[one.feeder])
    water = {one.feeder: one for one in second.additions}["water"]
    assert water.kg > before["water"]
    assert water.change_text.startswith("+")


def test_a_release_that_nobody_set_is_no_setting_to_change_from(lab: Lab, log: Log, clock: Clock) -> None:
    """Unanswered, the first release never reached the feeders: the second must not say that they stay."""
    log(**FULL)
    unset = release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    clock.move(minutes=1)
    second = release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    assert any(one.change_kg for one in unset.additions)
    for one in second.additions:
        assert one.change_kg == pytest.approx(one.kg - lab.sand.feeders[one.feeder].reference_kg)
    assert any("by JV was never acknowledged" in one for one in second.reasons)
    assert second.sentence.startswith("Counted from the release of 08:05, never acknowledged: Active clay")
    override(lab, by="AK", added_kg={"water": 21.0}, reason="wet by the look of it")
    assert any("was never acknowledged" in one for one in muller(lab).reasons), "still of the one before"
    clock.move(minutes=1)
    third = release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    water = next(one for one in third.additions if one.feeder == "water")
    assert water.change_kg == pytest.approx(water.kg - 21.0)
    assert not any("was never acknowledged" in one for one in third.reasons)


def test_parts_add_up_and_the_sentence_names_the_tests(lab: Lab, log: Log) -> None:
    """Every addition is the sum of its parts; evidence carries its age; the advice says that it is advice."""
    log(**FULL)
    facts = advise(lab, by="JV")
    for one in facts.additions:
        assert sum(one.parts_kg.values()) == pytest.approx(one.kg, abs=1e-6)
    clay = next(one for one in facts.evidence if one.property == "active_clay")
    assert clay.age_min == 0.0
    assert "trained person" in facts.advice_note
    assert facts.sentence.endswith(".")


def test_past_a_reaction_limit_the_screen_says_hold_and_whom_to_call(
    lab: Lab, log: Log, clock: Clock
) -> None:
    """HOLD until a later test is back inside."""
    log(**FULL)
    release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    acknowledge(lab, by="AK")
    assert muller(lab).state == "run"
    clock.move(minutes=5)
    log(compactability="30")
    held = muller(lab)
    assert (held.state, held.word) == ("hold", "HOLD")
    assert "Compactability 30 %" in held.reasons[0]
    assert held.call.startswith("Foundry engineer")
    clock.move(minutes=5)
    log(compactability="41")
    assert muller(lab).state == "run"


def test_silence_is_not_taken_for_calm(lab: Lab, log: Log, clock: Clock) -> None:
    """When the hourly test is overdue the screen says CHECK and since when."""
    log(**FULL)
    release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    acknowledge(lab, by="AK")
    clock.move(hours=2)
    late = muller(lab)
    assert late.state == "check"
    assert any("late" in one and "08:05" in one for one in late.reasons)
    clock.move(hours=3)
    assert any("late, 4 missed before, last test 08:05" in one for one in muller(lab).reasons)


def test_acknowledge_and_override_are_records_with_names(lab: Lab, log: Log) -> None:
    """The override's kilograms replace the released ones; it needs a reason and possible kilograms."""
    log(**FULL)
    with pytest.raises(InputError, match="nothing has been released"):
        acknowledge(lab, by="AK")
    release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    assert acknowledge(lab, by="AK").acknowledged_by == "AK"
    with pytest.raises(InputError) as caught:
        override(lab, by="AK", added_kg={"water": 900.0, "wter": 1.0}, reason="")
    assert len(caught.value.problems) == 3
    done = override(lab, by="AK", added_kg={"water": 21.0}, reason="sand is wet by the look of it")
    assert {one.feeder: one.kg for one in done.additions}["water"] == 21.0
    assert (done.overridden_by, done.override_reason) == ("AK", "sand is wet by the look of it")


def test_an_older_recommendation_cannot_be_released(lab: Lab, log: Log, clock: Clock) -> None:
    """Once a newer one exists the old one is old news; latest_advice tells which was released."""
    log(**FULL)
    old = advise(lab, by="JV")
    clock.move(minutes=10)
    new = advise(lab, by="JV")
    with pytest.raises(InputError, match="newer"):
        release(lab, recommendation=old.recommendation, by="JV")
    release(lab, recommendation=new.recommendation, by="JV")
    latest = latest_advice(lab)
    assert latest is not None
    assert latest.released
    assert latest.recommendation == new.recommendation


def test_a_recommendation_is_released_once(lab: Lab, log: Log, clock: Clock) -> None:
    """A second release would wipe the change and the acknowledgement off the muller screen."""
    log(**FULL)
    advice = advise(lab, by="JV")
    before = release(lab, recommendation=advice.recommendation, by="JV")
    clock.move(minutes=5)
    with pytest.raises(InputError, match="was released at 08:05 by JV already"):
        release(lab, recommendation=advice.recommendation, by="SK")
    assert muller(lab).additions == before.additions


def test_weak_evidence_holds_the_setting_and_asks_for_a_test(lab: Lab, log: Log) -> None:
    """No methylene-blue test: bentonite stays where it is and the advice says so."""
    log(**HOUR)
    facts = advise(lab, by="JV")
    clay = next(one for one in facts.additions if one.feeder == "bentonite")
    assert facts.hold
    assert clay.change_kg == 0.0
    assert any("active clay" in one for one in facts.reasons)


def test_batches_are_logged_with_what_was_really_added(lab: Lab, log: Log) -> None:
    """Numbers go up; impossible kilograms and unknown feeders are told together."""
    assert log_batch(lab, added_kg={"water": 27.5, "bentonite": 9.0}, by="AK").number == 1
    assert log_batch(lab, added_kg={"water": 28.0}, by="AK").number == 2
    with pytest.raises(InputError) as caught:
        log_batch(lab, added_kg={"watr": 1.0, "bentonite": -2.0}, by="")
    assert len(caught.value.problems) == 3
    # A decimal mark left out: a batch cannot be taken back, and the balance would rest on it.
    with pytest.raises(InputError, match="its feeder gives 0 to"):
        log_batch(lab, added_kg={"water": 275.0}, by="AK")


def test_low_compactability_at_the_water_that_is_set_asks_for_more(lab: Lab, log: Log, clock: Clock) -> None:
    """A release made after the last logged batch counts as the water of the samples after it."""
    log(**FULL)
    log_batch(lab, added_kg={"water": 24.0, "bentonite": 10.0}, by="AK")
    clock.move(minutes=1)
    release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    before = kg(lab)["water"]
    for _ in range(3):
        clock.move(minutes=10)
        log(compactability="36", moisture="3.1")
    again = {one.feeder: one for one in advise(lab, by="JV").additions}["water"]
    assert again.kg > before
