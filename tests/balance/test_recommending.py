"""The recommendation of the learned balance: parts, premix, several clays, new sand, holding, bad input."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sandlab.balance.inputs import Feeder, Target
from sandlab.balance.recommender import Recommender
from sandlab.balance.stream import (
    HOUR_US,
    BatchMade,
    Event,
    Noise,
    Outlook,
    PlannedJob,
    PlantModel,
    ProbeReading,
    Production,
    Receipt,
    ResultKnown,
)
from sandlab.errors import InputError
from tests.balance.luck import Luck
from tests.balance.plants import BENTONITE, COAL, NEW_SAND, PREMIX, WATER
from tests.balance.small_plant import BATCH_US, MONDAY_US, plant_model

ASK = MONDAY_US + 30 * HOUR_US


def feeder(material, present: float, **changes: float) -> Feeder:
    """A feeder whose limits do not bind, unless told otherwise."""
    return replace(Feeder(material.id, material, 0.0, 100.0, 0.01, 100.0, present), **changes)


def model(*feeders: Feeder, fines: bool = False) -> PlantModel:
    """The small foundry with these feeders."""
    plant = plant_model(Luck())
    targets = (*plant.targets, Target("inert_fines", 3.0, 0.5)) if fines else plant.targets
    return replace(plant, feeders=(*feeders, feeder(WATER, 28.0)), targets=targets)


def seasoned(
    plant: PlantModel, *, clay: float = 8.0, volatiles: float = 1.4, afs: float = 13.0
) -> Recommender:
    """A recommender after 30 hours of the usual recipe and steady results."""
    recommender = Recommender(plant)
    kg = {f.id: f.present_kg for f in plant.feeders}
    for hour in range(30):
        start = MONDAY_US + hour * HOUR_US
        for place in range(20):
            recommender.note(BatchMade(start + place * BATCH_US, kg))
        for name, value, every in (
            ("active_clay", clay, 4),
            ("volatiles", volatiles, 8),
            ("afs_clay", afs, 8),
        ):
            if hour % every == 0:
                recommender.note(ResultKnown(name, value, start, start + HOUR_US // 2))
    return recommender


USUAL = (feeder(BENTONITE, 11.0), feeder(COAL, 12.0), feeder(NEW_SAND, 20.0))


def test_parts_add_up_and_the_batch_is_on_target() -> None:
    """Each addition is the sum of its parts; with feeders that do not bind the batch meets its targets."""
    answer = seasoned(model(*USUAL)).recommend(ASK, Outlook())
    for addition in answer.additions:
        assert sum(part.kg for part in addition.parts) == pytest.approx(addition.kg, abs=1e-6)
    assert answer.prepared["active_clay"].value == pytest.approx(8.0, abs=0.01)
    assert answer.prepared["volatiles"].value == pytest.approx(1.4, abs=0.01)
    assert answer.misses == () and not answer.hold
    assert 0.0 < answer.sd_kg["bentonite"] < 5.0
    assert {one.property for one in answer.rests_on} >= {"active_clay", "volatiles"}
    assert answer.reason.startswith("Active clay")


def test_dose_by_hand() -> None:
    """Bentonite by the exact make-up of the batch balance on the return sand that is estimated."""
    recommender = seasoned(model(*USUAL))
    answer = recommender.recommend(ASK, Outlook())
    learned = recommender.learned()
    strength = 100.0 * (1.0 + learned["feeder bentonite"].value) * (1.0 + learned["lot bentonite"].value)
    coal = answer.kg["coal"] * 0.97
    returned = answer.returned["active_clay"].value
    dry, sand = recommender.log.usual_dry_kg, 20.0 * 0.998
    by_hand = (dry * (8.0 - returned) + 8.0 * (coal + sand)) / (0.9 * (strength - 8.0))
    assert answer.kg["bentonite"] == pytest.approx(by_hand, rel=0.02)


def test_jobs_ahead_are_fed_forward() -> None:
    """A long job with heavy cores and little sand per metal takes more bentonite at a shift's interval."""
    plant = replace(model(*USUAL), interval_h=8.0)

    def asked(metal: float, core: float) -> float:
        job = PlannedJob(ASK, ASK + 8 * HOUR_US, "any", metal, core)
        return seasoned(plant).recommend(ASK, Outlook((job,))).kg["bentonite"]

    assert asked(4.0, 0.4) > asked(8.0, 0.0) + 0.5


def test_premix_with_two_targets_says_which_is_missed() -> None:
    """Clay and carbon from one silo: the compromise is weighed in tolerances and the misses are named."""
    answer = seasoned(model(feeder(PREMIX, 15.0), feeder(NEW_SAND, 20.0)), volatiles=0.9).recommend(
        ASK, Outlook()
    )
    off = {miss.property: (miss.expected - miss.target) / miss.tolerance for miss in answer.misses}
    assert set(off) == {"active_clay", "volatiles"}
    assert off["active_clay"] > 0.0 > off["volatiles"]
    assert "fixed ratio" in answer.misses[0].because


def test_of_two_equal_clays_the_cheaper_is_fed() -> None:
    """Cost decides between near-equals: the dear clay goes to nothing, the batch stays on target."""
    dear = replace(BENTONITE, id="dear_clay", cost_per_t=600.0)
    plant = model(feeder(BENTONITE, 6.0), feeder(dear, 5.0), feeder(COAL, 12.0), feeder(NEW_SAND, 20.0))
    answer = seasoned(plant).recommend(ASK, Outlook())
    assert answer.kg["dear_clay"] < 0.5 < answer.kg["bentonite"]
    assert answer.prepared["active_clay"].value == pytest.approx(8.0, abs=0.05)


def test_rising_fines_call_for_new_sand() -> None:
    """A wash that shows 2 % more fines than wanted: more new sand, and more bentonite to go with it."""
    plant = model(*USUAL, fines=True)
    high = seasoned(plant, afs=15.0).recommend(ASK, Outlook())
    low = seasoned(plant, afs=12.0).recommend(ASK, Outlook())
    assert high.kg["new_sand"] > low.kg["new_sand"]
    assert high.prepared["active_clay"].value == pytest.approx(8.0, abs=0.02)
    bare = model(*USUAL)
    assert seasoned(bare, afs=15.0).recommend(ASK, Outlook()).kg["new_sand"] == 20.0


def test_low_fines_do_not_cut_new_sand_below_what_is_usual() -> None:
    """A purge is taken back when fines have come down, but the usual new sand stays; both are said."""
    low = {"fines": True}
    usual = feeder(NEW_SAND, 20.0, reference_kg=20.0)
    answer = seasoned(model(*USUAL[:2], usual, **low), afs=11.0).recommend(ASK, Outlook())
    assert answer.kg["new_sand"] == 20.0
    purged = feeder(NEW_SAND, 60.0, reference_kg=20.0)
    answer = seasoned(model(*USUAL[:2], purged, **low), afs=11.0).recommend(ASK, Outlook())
    assert answer.kg["new_sand"] == 20.0
    parts = {part.name: part.kg for part in answer.additions[2].parts}
    assert parts == {"held": 60.0, "inert_fines": -40.0}
    assert "new sand down 40 kg to 20 kg" in answer.reason and "less new sand" in answer.brief


def test_a_limit_that_binds_is_named_with_the_best_that_can_be_done() -> None:
    """Sand far below target and a feeder at its maximum: what binds, and the level that is reached."""
    small = (feeder(BENTONITE, 11.0, maximum_kg=12.0), *USUAL[1:])
    answer = seasoned(model(*small), clay=6.5).recommend(ASK, Outlook())
    miss = next(miss for miss in answer.misses if miss.property == "active_clay")
    assert answer.kg["bentonite"] == 12.0
    assert "maximum 12 kg" in miss.because and miss.expected < 7.9


def test_without_any_test_it_holds_and_asks_for_one() -> None:
    """Nothing tested: what is set stays, with the reason; tests release it."""
    answer = Recommender(model(*USUAL)).recommend(ASK, Outlook())
    assert (
        answer.hold and "no test of active clay" in answer.hold_reason and "test again" in answer.hold_reason
    )
    assert answer.kg == {"bentonite": 11.0, "coal": 12.0, "new_sand": 20.0}
    assert not seasoned(model(*USUAL)).recommend(ASK, Outlook()).hold


def test_what_is_too_uncertain_is_held() -> None:
    """A tolerance much finer than what is known of the sand: hold and say how little is known."""
    plant = model(*USUAL)
    strict = replace(plant, targets=(plant.targets[0], Target("active_clay", 8.0, 0.01), plant.targets[2]))
    answer = seasoned(strict).recommend(ASK, Outlook())
    held = {addition.feeder for addition in answer.additions if addition.held}
    assert held == {"bentonite"} and "only known to +/-" in answer.hold_reason


DOUBTED_US = ASK - HOUR_US  # no other result of that time


def clay_test(value: float, taken_us: int, *, doubtful: bool = False) -> ResultKnown:
    """A methylene-blue result, known half an hour after its sand was taken."""
    return ResultKnown("active_clay", value, taken_us, taken_us + HOUR_US // 2, doubtful)


@pytest.mark.parametrize("first", [clay_test(11.0, DOUBTED_US), clay_test(7.2, DOUBTED_US, doubtful=True)])
def test_a_doubtful_result_holds_its_feeder_until_the_repeat(first: ResultKnown) -> None:
    """Beyond the gate, or doubted by a person: bentonite as set, carbon goes on; any repeat ends it.

    A repeat on the same side says that the sand has changed. After four hours a doubt holds no more.
    """
    recommender = seasoned(model(*USUAL), volatiles=1.2)
    recommender.note(first)
    answer = recommender.recommend(ASK, Outlook())
    doses = {addition.feeder: addition for addition in answer.additions}
    assert answer.hold and doses["bentonite"].held and doses["bentonite"].kg == 11.0
    assert not doses["coal"].held
    result = f"the last active clay result, {first.value:.2f} %, is doubtful"
    assert f"(last test 60 min ago; {result}) against 8.00 %: bentonite held at 11 kg" in answer.reason
    assert answer.hold_reason == f"Hold bentonite, because {result}: test again before changing."
    assert not recommender.recommend(ASK + 3 * HOUR_US, Outlook()).hold
    for repeat in (8.0, first.value):
        again = seasoned(model(*USUAL), volatiles=1.2)
        for one in (first, clay_test(repeat, DOUBTED_US + HOUR_US // 4)):
            again.note(one)
        asked = again.recommend(ASK, Outlook())
        assert not asked.hold and not any("repeat the test" in flag for flag in asked.flags)


def test_a_doubtful_volatiles_result_holds_the_carbon() -> None:
    """The carbon by volatiles as the bentonite by clay."""
    recommender = seasoned(model(*USUAL))
    recommender.note(ResultKnown("volatiles", 3.4, DOUBTED_US, DOUBTED_US + HOUR_US))
    answer = recommender.recommend(ASK, Outlook())
    assert {addition.feeder for addition in answer.additions if addition.held} == {"coal"}
    assert any("volatiles 3.40 % taken 60 min ago lies" in flag for flag in answer.flags)


def test_an_override_is_taken_as_what_is_set() -> None:
    """Batches logged otherwise than recommended: the next change is counted from what was really fed."""
    plant = model(feeder(BENTONITE, 11.0, greatest_step_kg=1.0), *USUAL[1:])
    recommender = seasoned(plant, clay=7.0)
    recommender.recommend(ASK, Outlook())
    recommender.note(BatchMade(ASK, {"bentonite": 15.0, "coal": 12.0, "new_sand": 20.0}))
    answer = recommender.recommend(ASK + BATCH_US, Outlook())
    assert answer.kg["bentonite"] == pytest.approx(15.0, abs=1.0 + 1e-6)
    change = next(a.change_kg for a in answer.additions if a.feeder == "bentonite")
    assert change == pytest.approx(answer.kg["bentonite"] - 15.0)


BAD: dict[str, Event] = {
    "is not possible": ResultKnown("active_clay", float("nan"), 0, 1),
    "before it was taken": ResultKnown("active_clay", 8.0, 10, 1),
    "no feeder 'bentonit'": BatchMade(0, {"bentonit": 11.0}),
    "kg is not possible": BatchMade(0, {"bentonite": -1.0}),
    "return sand": BatchMade(0, {}, return_sand_kg=-5.0),
    "probe moisture": BatchMade(0, {}, probe_moisture=88.0),
    "probe temperature": ProbeReading(0, None, 900.0),
    "ends before it begins": Production(10, 1, "any", 5.0, 6.0),
    "sand:metal": Production(0, 1, "any", 5.0, 0.0),
    "t metal": Production(0, 1, "any", float("nan"), 6.0),
    "its assay is zero": Receipt(0, "bentonite", "B1", {"active_clay": 0.0}),
    "no feeder holds": Receipt(0, "cement"),
    "0 kg or more": Receipt(0, "bentonite", kg=-1.0),
    "is not a component": Receipt(0, "bentonite", "B1", {"clay": 90.0}),
}


@pytest.mark.parametrize("words", BAD)
def test_impossible_events_are_refused_and_change_nothing(words: str) -> None:
    """A message with what is wrong; the last recommendation stays in force and the estimate as it was."""
    recommender = seasoned(model(*USUAL))
    last, before = recommender.recommend(ASK, Outlook()), recommender.returned()
    with pytest.raises(InputError, match=words):
        recommender.note(BAD[words])
    assert recommender.returned() == before and recommender.last is last


def test_impossible_plants_are_refused() -> None:
    """All problems of a plant at once: stock, noise, limits that contradict each other."""
    plant = model(feeder(BENTONITE, 11.0, minimum_kg=20.0, maximum_kg=10.0), *USUAL[1:])
    with pytest.raises(InputError) as caught:
        Recommender(replace(plant, stock_t=-1.0, noise={"active_clay": Noise(0.0, 60.0)}))
    text = str(caught.value)
    assert "contradict" in text and "stock_t" in text and "no test is exact" in text


def test_results_of_properties_that_are_not_used_do_no_harm() -> None:
    """A property the balance has no use for is taken in and changes nothing."""
    recommender = seasoned(model(*USUAL))
    before = recommender.returned()
    recommender.note(ResultKnown("permeability", 110.0, ASK - HOUR_US, ASK))
    assert recommender.returned() == before


def test_a_result_older_than_the_first_batch_is_taken_as_of_the_first() -> None:
    """Clock trouble: a sample taken before anything was logged does not break the replay."""
    recommender = seasoned(model(*USUAL))
    recommender.note(ResultKnown("active_clay", 8.1, MONDAY_US - 5 * HOUR_US, ASK))
    assert np.isfinite(recommender.returned()["active_clay"].value)
