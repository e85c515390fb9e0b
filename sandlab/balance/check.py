"""Impossible inputs of a recommendation, all of them at once."""

from __future__ import annotations

from collections.abc import Iterator

from sandlab.balance.composition import COMPONENTS, composition_problems
from sandlab.balance.inputs import AdviceInputs, Feeder, Muller, Target
from sandlab.balance.loop import loop_problems
from sandlab.balance.materials import material_problems
from sandlab.errors import InputError, Problem, nearest

STEERED = ("active_clay", "volatiles", "fixed_carbon")
TARGETS = ("compactability", *COMPONENTS)

# property -> what a result of it can be
_POSSIBLE = {
    **dict.fromkeys(COMPONENTS, (-5.0, 60.0)),  # loss-based results may come out a little below 0
    "moisture": (0.0, 50.0),
    "return_moisture": (0.0, 50.0),
    "return_temperature": (-40.0, 400.0),
    "sand_temperature": (-40.0, 200.0),
    "compactability": (0.0, 100.0),
}


def check(inputs: AdviceInputs) -> None:
    """Refuse inputs that no foundry can have, naming every one of them."""
    problems = [
        *_feeder_set(inputs.feeders),
        *(p for feeder in inputs.feeders for p in _feeder(feeder)),
        *_targets(inputs.targets),
        *_muller(inputs.muller),
        *loop_problems(inputs.loop),
        *composition_problems("usual composition", inputs.usual),
        *_tests(inputs),
        *_settings(inputs),
    ]
    if problems:
        raise InputError(problems)


def _feeder_set(feeders: tuple[Feeder, ...]) -> Iterator[Problem]:
    water = [feeder.id for feeder in feeders if feeder.material.kind == "water"]
    if len(water) != 1:
        yield Problem("feeders", f"{len(water)} of them feed water", "give exactly one water feeder")
    for name in {feeder.id for feeder in feeders if [f.id for f in feeders].count(feeder.id) > 1}:
        yield Problem("feeders", f"'{name}' stands there twice", "give each feeder its own name")


def _feeder(feeder: Feeder) -> Iterator[Problem]:
    where = f"feeder {feeder.id}"
    if not 0.0 <= feeder.minimum_kg <= feeder.maximum_kg < float("inf"):
        yield Problem(
            where,
            f"minimum {feeder.minimum_kg} kg and maximum {feeder.maximum_kg} kg contradict each other",
            "give 0 <= minimum <= maximum",
        )
    for name in ("resolution_kg", "greatest_step_kg"):
        if not 0.0 < getattr(feeder, name) < float("inf"):
            yield Problem(
                f"{where}, {name}", f"{getattr(feeder, name)} is not possible", "give more than 0 kg"
            )
    if not 0.0 <= feeder.present_kg < float("inf"):
        yield Problem(f"{where}, present_kg", f"{feeder.present_kg} kg is not possible", "give 0 kg or more")
    yield from material_problems(feeder.material)


def _targets(targets: tuple[Target, ...]) -> Iterator[Problem]:
    names = [target.property for target in targets]
    if "compactability" not in names:
        yield Problem("targets", "compactability has no target", "give its target and tolerance")
    for target in targets:
        where = f"target of {target.property}"
        if target.property not in TARGETS:
            yield Problem(where, "the balance cannot steer it", nearest(target.property, TARGETS))
            continue
        high = 95.0 if target.property == "compactability" else 60.0
        if not 0.0 <= target.target <= high or (target.property == "compactability" and target.target < 5.0):
            yield Problem(where, f"{target.target} % is not possible", f"give a target up to {high:g} %")
        if not 0.0 < target.tolerance < float("inf"):
            yield Problem(where, f"tolerance {target.tolerance} is not possible", "give more than 0")
        if names.count(target.property) > 1:
            yield Problem(where, "stands there twice", "give one target")
    if sum(t.target for t in targets if t.property in COMPONENTS) >= 100.0:
        yield Problem("targets", "the components add up to 100 % or more", "leave room for the grain")


def _muller(muller: Muller) -> Iterator[Problem]:
    ranges = {
        "batch_kg": (1e-3, 1e6),
        "work_kwh_per_t": (0.0, 50.0),
        "discharge_eta": (0.0, 1.0),
        "ambient_temperature": (-50.0, 60.0),
        "return_moisture": (0.0, 50.0),
        "return_temperature": (-40.0, 400.0),
    }
    for name, (low, high) in ranges.items():
        value = getattr(muller, name)
        if not low <= value <= high:
            yield Problem(f"muller, {name}", f"{value} is not possible", f"give {low:g} to {high:g}")


def _tests(inputs: AdviceInputs) -> Iterator[Problem]:
    for name, readings in inputs.tests.items():
        if name not in _POSSIBLE:
            yield Problem(
                f"tests of {name}", "the balance does not use them", nearest(name, tuple(_POSSIBLE))
            )
            continue
        for reading in readings:
            yield from _result(name, reading.value, reading.age_min)
    for test in inputs.temper_tests:
        yield from _result("compactability", test.compactability, test.age_min)
        for name in ("moisture", "return_moisture", "return_temperature"):
            value = getattr(test, name)
            if value is not None:
                yield from _result(name, value, test.age_min)
        if test.water_kg is not None and not 0.0 <= test.water_kg <= max(inputs.muller.batch_kg, 1e3):
            yield Problem("water of a tested batch", f"{test.water_kg} kg", "give 0 kg up to the batch")


def _result(name: str, value: float, age_min: float) -> Iterator[Problem]:
    low, high = _POSSIBLE[name]
    where = f"tests of {name}"
    if not low <= value <= high:
        yield Problem(where, f"{value} is not possible", f"give {low:g} to {high:g}, or leave it out")
    if not 0.0 <= age_min < float("inf"):
        yield Problem(where, f"an age of {age_min} min is not possible", "check the clock of the sample")


def _settings(inputs: AdviceInputs) -> Iterator[Problem]:
    if not 1.0 <= inputs.slope <= 200.0:
        yield Problem(
            "slope", f"{inputs.slope} points per 1 % is not possible", "common practice is 20 to 35"
        )
    if not 0.0 < inputs.weight < 1.0:
        yield Problem(
            "weight", f"{inputs.weight} follows the last test in full or not at all", "give 0.05 to 0.5"
        )
    if not 0.0 < inputs.correction <= 1.0:
        yield Problem("correction", f"{inputs.correction} is not a share", "give above 0 to 1, common is 0.5")
