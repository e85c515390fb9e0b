"""Impossible input is refused with every problem named; no number that is none ever comes out."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sandlab.balance import Evidence, Material, Muller, PlantModel, Recommender, Target
from sandlab.balance.batch import dry_mass, exact_addition, moisture_of, simple_addition, water_per_dry
from sandlab.balance.filtering import best_weight, exponentially_weighted, variance_ratio
from sandlab.balance.heat import cooling, cooling_water
from sandlab.balance.loop import burnt_share, cycles_to_settle, steady_level, wear_loss
from sandlab.balance.materials import clay_assay
from sandlab.balance.steering import ReturnSand, steer
from sandlab.balance.stream import HOUR_US, BatchMade, Noise, Outlook, ResultKnown
from sandlab.errors import InputError
from tests.balance.plants import BENTONITE, COAL, LOOP, WATER, feeder, plant

NAN = float("nan")


def first(**changes: Any) -> PlantModel:
    """The plant with its bentonite feeder changed."""
    inputs = plant()
    return replace(inputs, feeders=(replace(inputs.feeders[0], **changes), *inputs.feeders[1:]))


def clay(**changes: Any) -> PlantModel:
    """The plant with its bentonite changed."""
    return first(material=replace(BENTONITE, **changes))


def muller(**changes: Any) -> PlantModel:
    """The plant with its muller changed."""
    return replace(plant(), muller=replace(plant().muller, **changes))


REFUSED = [
    (clay(assay={"active_clay": 0.0}), "a clay with no active_clay cannot correct anything"),
    (clay(assay={"active_clay": -3.0}), "active_clay: -3.0 % is not possible"),
    (clay(assay={"clay": 80.0}), "'clay' is not a component of sand"),
    (clay(moisture=100.0), "100.0 % is not possible for clay"),
    (clay(moisture=NAN), "nan % is not possible"),
    (clay(kind="binder"), "'binder' is not a kind"),
    (clay(temperature=900.0), "900.0 C is not possible"),
    (clay(cost_per_t=-1.0), "the price is below 0"),
    (first(minimum_kg=9.0, maximum_kg=5.0), "minimum 9.0 kg and maximum 5.0 kg contradict each other"),
    (first(resolution_kg=0.0), "resolution_kg: 0.0 is not possible"),
    (first(greatest_step_kg=-1.0), "greatest_step_kg: -1.0 is not possible"),
    (first(present_kg=-2.0), "present_kg: -2.0 kg is not possible"),
    (first(id="coal"), "'coal' stands there twice"),
    (replace(plant(), feeders=plant().feeders[:-1]), "0 of them feed water"),
    (
        replace(plant(), feeders=(*plant().feeders, feeder(replace(WATER, id="tap"), 0.0))),
        "2 of them feed water",
    ),
    (muller(batch_kg=-1500.0), "batch_kg: -1500.0 is not possible"),
    (muller(batch_kg=0.0), "batch_kg: 0.0 is not possible"),
    (muller(return_moisture=100.0), "return_moisture: 100.0 is not possible"),
    (muller(ambient_temperature=NAN), "ambient_temperature: nan is not possible"),
    (replace(plant(), loop=replace(LOOP, sand_to_metal=0.0)), "sand_to_metal: 0.0 is not possible"),
    (replace(plant(), loop=replace(LOOP, clay_wear_factor=-0.1)), "clay_wear_factor: -0.1 is not possible"),
    (replace(plant(), targets=plant().targets[1:]), "compactability has no target"),
    (replace(plant(), targets=(*plant().targets, Target("active_clay", 8.0, 1.0))), "stands there twice"),
    (
        replace(plant(), targets=(*plant().targets, Target("activ_clay", 8.0, 1.0))),
        "did you mean 'active_clay'",
    ),
    (replace(plant(), targets=(*plant().targets, Target("inert_fines", 3.0, 0.0))), "tolerance 0.0 is not"),
    (replace(plant(), targets=(*plant().targets, Target("inert_fines", NAN, 1.0))), "nan % is not possible"),
    (replace(plant(), slope=0.0), "slope: 0.0 is not possible"),
    (replace(plant(), usual={"inert_fines": 101.0}), "inert_fines: 101.0 % is not possible"),
    (replace(plant(), stock_t=NAN), "stock_t: nan is not possible"),
    (replace(plant(), batches_per_h=0.0), "batches_per_h: 0.0 is not possible"),
    (replace(plant(), noise={"active_clay": Noise(-1.0, 5.0)}), "no test is exact"),
]


@pytest.mark.parametrize(("inputs", "message"), REFUSED, ids=[message for _, message in REFUSED])
def test_impossible_input_is_refused_by_name(inputs: PlantModel, message: str) -> None:
    """The message says where and what."""
    with pytest.raises(InputError) as caught:
        Recommender(inputs)
    assert message in str(caught.value)


def test_all_problems_are_reported_at_once() -> None:
    """Three mistakes in three places give three problems, each with something to do."""
    inputs = replace(clay(moisture=100.0), muller=Muller(-1.0), slope=-1.0)
    with pytest.raises(InputError) as caught:
        Recommender(inputs)
    assert len(caught.value.problems) == 3
    assert all(problem.do for problem in caught.value.problems)


@pytest.mark.parametrize(
    "call",
    [
        lambda: water_per_dry(100.0),
        lambda: water_per_dry(-0.1),
        lambda: water_per_dry(NAN),
        lambda: moisture_of(-1.0, 10.0),
        lambda: moisture_of(1.0, 0.0),
        lambda: dry_mass(-1.0, 3.0),
        lambda: simple_addition(1000.0, 7.0, 8.0, 0.0),
        lambda: exact_addition(1000.0, 7.0, 8.0, 8.0),
        lambda: cooling(1.0, 2400.0, 0.0),
        lambda: cooling_water(1000.0, 40.0, 60.0, 20.0),
        lambda: wear_loss(1000.0, 8.0, 0.4, 0.0),
        lambda: burnt_share(0.4, 0.0),
        lambda: steady_level(0.68, 1.0),
        lambda: cycles_to_settle(1.0),
        lambda: clay_assay(100.0),
        lambda: exponentially_weighted([1.0], 0.0, 0.0),
        lambda: best_weight(-1.0),
        lambda: variance_ratio(2.0),
    ],
)
def test_formulas_refuse_what_cannot_be(call: Any) -> None:
    """Each formula raises the project's own error, with something to do."""
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.problems[0].do


SANDS = {
    "bare": {"active_clay": 0.0, "volatiles": -0.5},
    "rich": {"active_clay": 60.0, "volatiles": 30.0},
    "wet and cold": {"return_moisture": 12.0, "return_temperature": -20.0, "compactability": 100.0},
    "dry and hot": {"return_moisture": 0.0, "return_temperature": 200.0, "compactability": 0.0},
    "untested": {},
}
PLANTS = {
    "all feeders": plant(),
    "water alone": replace(plant(), feeders=(feeder(WATER, 30.0),)),
    "compactability alone": replace(plant(), targets=(Target("compactability", 42.0, 4.0),)),
    "no clay": replace(plant(), feeders=(feeder(COAL, 5.0), feeder(WATER, 30.0))),
    "one setting": first(minimum_kg=12.0, maximum_kg=12.0),
    "next to no assay": clay(assay={"active_clay": 1e-6}),
}


def asked(model: PlantModel, sand: dict[str, float]) -> Recommender:
    """Three hours of batches with the same results every hour, and an advice at their end."""
    recommender = Recommender(model)
    kg = {one.id: one.present_kg for one in model.feeders}
    for number in range(12):
        at = number * HOUR_US // 4
        recommender.note(BatchMade(at, kg))
        if number % 4 == 0:
            for name, value in sand.items():
                recommender.note(ResultKnown(name, value, at, at + 1))
    recommender.advise(3 * HOUR_US, Outlook())
    return recommender


def numbers(value: Any) -> list[float]:
    """Every number inside an answer."""
    if isinstance(value, float):
        return [value]
    if isinstance(value, dict):
        return [number for one in value.values() for number in numbers(one)]
    if isinstance(value, tuple):
        return [number for one in value for number in numbers(one)]
    return numbers(tuple(getattr(value, name) for name in getattr(value, "__dataclass_fields__", ())))


@pytest.mark.parametrize("sand", SANDS)
@pytest.mark.parametrize("name", PLANTS)
def test_extreme_but_possible_input_gives_finite_numbers(name: str, sand: str) -> None:
    """However odd the sand, every number is finite, every addition can be set, and no warning is raised."""
    model = PLANTS[name]
    answer = asked(model, SANDS[sand]).last
    assert answer is not None
    assert all(math.isfinite(number) for number in numbers(answer))
    feeders = {one.id: one for one in model.feeders}
    assert set(answer.kg) == set(feeders)
    for one in answer.additions:
        assert feeders[one.feeder].minimum_kg <= one.kg <= feeders[one.feeder].maximum_kg
        assert sum(part.kg for part in one.parts) == pytest.approx(one.kg, abs=1e-6)


def test_water_not_last_in_the_list_is_still_found() -> None:
    """The order of the feeders does not matter to the kg."""
    sand = {"active_clay": 7.6, "volatiles": 1.1, "compactability": 40.0}
    turned = asked(replace(plant(), feeders=plant().feeders[::-1]), sand).last
    straight = asked(plant(), sand).last
    assert turned is not None and straight is not None
    assert turned.kg == straight.kg


def test_a_target_no_feeder_serves_is_reported() -> None:
    """Volatiles have a target but no carbon is fed: the miss says so."""
    model = replace(plant(), feeders=(plant().feeders[0], *plant().feeders[2:]))
    answer = asked(model, {"active_clay": 8.0, "volatiles": 0.5, "compactability": 42.0}).last
    assert answer is not None
    assert "no feeder steers volatiles" in [miss.because for miss in answer.misses]


def test_an_assay_above_100_on_a_moist_calibration_lowers_the_addition() -> None:
    """Bentonite on the scale of a moist calibration has more than 100 % and less of it is needed."""
    returned = np.array([7.3, 0.85, 1.8, 4.0])
    target = Target("active_clay", 8.0, 0.6)
    sand = ReturnSand(1470.0, returned, returned, returned, (target,))
    found = {"active_clay": Evidence("active_clay", 8.0, 8.0, 0.0, 1, "")}
    assays = ({"active_clay": 100.0}, {"active_clay": clay_assay(10.0)})
    feeders = [replace(feeder(replace(BENTONITE, assay=one), 12.0), resolution_kg=1e-6) for one in assays]
    plain, moist = (steer([one], sand, found)[0].kg for one in feeders)
    assert moist == pytest.approx(0.9 * plain, rel=0.02)
    with pytest.raises(InputError, match="active_clay: 200"):
        Recommender(clay(assay={"active_clay": 200.0}))


def test_a_material_needs_no_assay_to_be_water_or_sand() -> None:
    """Only what is meant to correct must carry something."""
    assert Material("x", "water", 100.0).dry_share == 0.0
