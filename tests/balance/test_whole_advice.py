"""The whole advice: water with the other feeders, what it rests on, a history told at once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sandlab.balance import Recommendation, Recommender, Voice
from sandlab.balance.stream import HOUR_US, BatchMade, Event, Production, Receipt, ResultKnown
from tests.balance.by_hand import batch_moisture
from tests.balance.luck import Luck
from tests.balance.plants import plant
from tests.balance.small_plant import MONDAY_US, SmallPlant, plant_model

NOW = 12 * HOUR_US
TESTS = {"active_clay": 8.0, "volatiles": 1.0, "return_moisture": 2.2, "return_temperature": 38.0}


def history(compactability: float = 42.0, *, water: float = 30.0, **changes: float) -> list[Event]:
    """Twelve hours of batches at the usual settings, tested every hour, known at once."""
    kg = {one.id: one.present_kg for one in plant().feeders} | {"water": water}
    events: list[Event] = []
    for number in range(240):
        at = number * HOUR_US // 20
        events.append(BatchMade(at, kg))
        if number % 20 == 0:
            values = TESTS | {"compactability": compactability, "moisture": 3.4} | changes
            events += [ResultKnown(name, value, at, at + 1) for name, value in values.items()]
    return events


def advised(events: list[Event], *, at_us: int = NOW, **changes: object) -> Recommendation:
    """The whole advice after a history."""
    recommender = Recommender(replace(plant(), **changes))  # type: ignore[arg-type]
    assert recommender.recall(events) == ()
    return recommender.advise(at_us)


def water(answer: Recommendation) -> float:
    """Water of the next batch [kg]."""
    return answer.kg["water"]


def test_water_stands_last_with_parts_that_add_up() -> None:
    """Every feeder has its kg; the water's parts sum to it, and its band stands beside it."""
    answer = advised(history())
    assert [one.feeder for one in answer.additions][-1] == "water"
    parts = {part.name: part.kg for part in answer.additions[-1].parts}
    assert sum(parts.values()) == pytest.approx(water(answer), abs=1e-9)
    assert parts["return_sand"] < 0.0 < parts["evaporation"] < parts["level"]
    assert 0.0 < answer.sd_kg["water"] < 5.0
    assert not answer.hold


def test_expected_moisture_by_hand() -> None:
    """Water and heat balance written out give the moisture of the advice, less what the tests have taught."""
    model = plant()
    recommender = Recommender(model)
    recommender.recall([BatchMade(0, {one.id: one.present_kg for one in model.feeders})])
    answer = recommender.advise(HOUR_US // 20)
    assert answer.moisture is not None
    by_hand = batch_moisture(model, answer.kg, 2.2, 38.0)
    assert answer.moisture.value == pytest.approx(by_hand, abs=1e-9)


def test_dry_sand_asks_for_more_water_and_asking_twice_for_no_more() -> None:
    """Six points too dry: water up by about what the slope says; nothing new, nothing more."""
    recommender = Recommender(plant())
    recommender.recall(history(36.0))
    first = recommender.advise(NOW)
    more = water(first) - 30.0
    assert more == pytest.approx(6.0 / 27.0 / 100.0 * 1500.0, abs=1.5)
    assert water(recommender.advise(NOW)) == water(first)


def test_without_compactability_the_water_is_held() -> None:
    """No test of what water steers: it stays, and the reason asks for one; the rest goes on."""
    bare = [
        one for one in history() if not (isinstance(one, ResultKnown) and one.property == "compactability")
    ]
    answer = advised(bare)
    addition = answer.additions[-1]
    assert addition.held and addition.kg == 30.0
    assert "no test of compactability" in answer.hold_reason
    assert not answer.additions[0].held


def test_old_tests_hold_the_water() -> None:
    """Two days after the last test the compactability is not known well enough to move the water."""
    answer = advised(history(), at_us=NOW + 48 * HOUR_US)
    assert answer.additions[-1].held
    assert "compactability is only known to" in answer.hold_reason


def test_a_wild_compactability_asks_for_its_repeat() -> None:
    """One result 25 points off is doubtful: named with its value, and the water hardly moves."""
    wild = [*history(), ResultKnown("compactability", 67.0, NOW - HOUR_US // 20, NOW)]
    answer = advised(wild)
    assert any("compactability 67 %" in flag and "repeat the test" in flag for flag in answer.flags)
    assert abs(water(answer) - water(advised(history()))) < 3.0


def test_hot_sand_and_missing_return_tests_are_said() -> None:
    """Return sand above 49 C is named; without probe or test the usual values are, with their unit."""
    assert any(
        "at 60 C behaves inconsistently" in flag for flag in advised(history(return_temperature=60.0)).flags
    )
    bare = [
        one for one in history() if not (isinstance(one, ResultKnown) and one.property.startswith("return"))
    ]
    flags = " ".join(advised(bare).flags)
    assert "no recent return moisture: 2.20 %" in flags and "no recent return temperature: 38 C" in flags


def test_a_person_s_setting_is_what_the_change_is_counted_from() -> None:
    """Set by a release after the last batch: change and greatest step count from there, water included."""
    feeders = tuple(replace(one, greatest_step_kg=1.0) for one in plant().feeders)
    recommender = Recommender(replace(plant(), feeders=feeders))
    recommender.recall(history(36.0))
    recommender.set_to(NOW, {"bentonite": 15.0, "water": 25.0})
    answer = recommender.advise(NOW + 1)
    by_id = {one.feeder: one for one in answer.additions}
    assert by_id["water"].change_kg == pytest.approx(by_id["water"].kg - 25.0)
    assert by_id["water"].kg <= 26.0
    assert by_id["bentonite"].change_kg == pytest.approx(by_id["bentonite"].kg - 15.0)
    assert any("greatest step" in text for text in by_id["water"].binds)


def test_sentences_carry_the_plants_mark_and_units() -> None:
    """Decimal comma everywhere, temperatures in F and strength in psi where the plant shows them so."""
    voice = Voice(",", {"return_temperature": ("C", "F", 0), "green_compression_strength": ("kPa", "psi", 1)})
    events = history(36.0, return_temperature=60.0)
    events += [
        ResultKnown("green_compression_strength", value, at * HOUR_US, at * HOUR_US + 1)
        for at, value in ((2, 160.0), (3, 160.0), (4, 160.0), (5, 160.0), (11, 60.0))
    ]
    answer = advised(events, voice=voice)
    text = " ".join(
        (answer.reason, *answer.flags, *answer.void_if, *(b for a in answer.additions for b in a.binds))
    )
    assert "8,00 %" in text and "at 140 F" in text and "8,7 psi" in text
    assert not [word for word in text.split() if word[:-1].replace(".", "", 1).isdigit() and "." in word[:-1]]


def test_a_new_lot_is_in_the_reason_and_in_the_dose() -> None:
    """Bentonite of 80 % instead of 100 % from now on: more of it in the next batch, and the lot is named."""
    lot = Receipt(NOW, "bentonite", "VK-1", {"active_clay": 80.0}, kg=24_000.0)
    before, after = advised(history()), advised([*history(), lot])
    assert after.kg["bentonite"] > 1.15 * before.kg["bentonite"]
    assert "new lot VK-1 of bentonite: active clay 80.00 %" in after.reason


def test_a_history_told_at_once_gives_the_same_sand() -> None:
    """`recall` and `note` agree on the sand to the last digits, and nearly on the water."""
    small = SmallPlant(3, Luck(), hours=30)
    noted = Recommender(plant_model(Luck()))
    course = small.run(noted)
    recalled = Recommender(plant_model(Luck()))
    recalled.recall(course.events)
    now = MONDAY_US + 30 * HOUR_US
    for name, one in noted.returned().items():
        assert recalled.returned()[name].value == pytest.approx(one.value, abs=1e-9)
    assert recalled.advise(now).kg["water"] == pytest.approx(noted.advise(now).kg["water"], abs=1.5)


def test_the_order_of_late_results_does_not_matter() -> None:
    """The same records give the same answer: late results told in another order change nothing."""
    events = history()
    late = [
        ResultKnown("active_clay", 7.7, 3 * HOUR_US, NOW),
        ResultKnown("volatiles", 1.2, 5 * HOUR_US, NOW),
        Production(0, 6 * HOUR_US, "gully grates", 25.0, 7.2, 0.5),
    ]
    answers = [advised([*events, *order]) for order in (late, late[::-1])]
    assert answers[0] == answers[1]


def test_impossible_records_are_left_out_and_said() -> None:
    """One impossible batch does not end all advice: it is named and the rest counts."""
    recommender = Recommender(plant())
    refused = recommender.recall([*history(), BatchMade(NOW, {"bentonite": -3.0})])
    assert [problem.what for problem in refused] == ["-3.0 kg is not possible"]
    assert recommender.advise(NOW).kg == advised(history()).kg


def test_out_of_reach_says_what_binds_and_the_best() -> None:
    """Water at its maximum: compactability is missed, with what is reached instead."""
    feeders = tuple(replace(one, maximum_kg=31.0) if one.id == "water" else one for one in plant().feeders)
    answer = advised(history(30.0), feeders=feeders)
    miss = next(one for one in answer.misses if one.property == "compactability")
    assert "maximum 31 kg" in miss.because
    assert 30.0 < miss.expected < 38.0
