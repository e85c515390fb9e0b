"""Steps of the reaction plan: due from the first result past a limit, done by somebody, due anew later."""

from __future__ import annotations

import pytest

from sandlab.errors import InputError
from sandlab.lab.attention import attention
from sandlab.lab.opening import Lab
from sandlab.lab.reacting import mark_step, steps_due
from tests.lab.conftest import Clock, Log

REPEAT = "Take a fresh sample and repeat the test"


def test_nothing_is_due_while_results_are_inside(lab: Lab, log: Log) -> None:
    log(compactability="42")
    facts = steps_due(lab)
    assert facts.steps == ()
    assert facts.words == "No result and no chart calls for a step of the reaction plan."


def test_steps_are_due_from_the_first_result_past_the_limit(lab: Lab, log: Log, clock: Clock) -> None:
    """The plan of compactability_low in reactions.toml: three steps, technician, within 10 min."""
    first = log(compactability="30").sample.sample
    clock.move(minutes=25)
    log(compactability="31")
    facts = steps_due(lab)
    assert facts.open == len(facts.steps) == 3
    assert facts.steps[0].words == f"{REPEAT} - 15 min late"
    assert {one.sample for one in facts.steps} == {first}
    assert facts.steps[0].reason == "Compactability 31 % is below the reaction limit 34 %"


def test_a_step_is_marked_once_with_who_and_what_was_found(lab: Lab, log: Log, clock: Clock) -> None:
    log(compactability="30")
    clock.move(minutes=4)
    done = {"property": "compactability", "signal": "past_reaction_low", "step": REPEAT}
    facts = mark_step(lab, **done, by="AK", found="31 again")
    assert facts.open == 2
    assert facts.steps[-1].words == f"{REPEAT} - done 08:09 by AK: 31 again"
    with pytest.raises(InputError, match="was done by AK already"):
        mark_step(lab, **done, by="SK")
    with pytest.raises(InputError) as refused:
        mark_step(lab, property="compactability", signal="past_reaction_low", step="Dance", by="")
    assert [one.where for one in refused.value.problems] == ["technician", "step"]


def test_back_inside_ends_it_and_the_next_time_begins_anew(lab: Lab, log: Log, clock: Clock) -> None:
    log(compactability="30")
    mark_step(lab, property="compactability", signal="past_reaction_low", step=REPEAT, by="AK")
    clock.move(hours=1)
    log(compactability="42")
    assert steps_due(lab).steps == ()
    clock.move(hours=1)
    log(compactability="30")
    assert steps_due(lab).open == 3


def test_the_first_screen_is_told_what_waits(lab: Lab, log: Log) -> None:
    assert attention(lab).empty
    log(compactability="30")
    facts = attention(lab)
    assert not facts.empty
    assert facts.open_steps == 3
    assert facts.next_step == f"by 08:15: Compactability: {REPEAT}"
    assert facts.chart == "compactability"
    assert facts.chart_words == "Compactability 30 %"
