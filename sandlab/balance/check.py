"""What makes a plant impossible to advise, all of it at once."""

from __future__ import annotations

from collections.abc import Iterator

from sandlab.balance.composition import COMPONENTS
from sandlab.balance.inputs import Feeder, Muller, Target
from sandlab.balance.loop import Loop, loop_problems
from sandlab.balance.materials import material_problems
from sandlab.errors import Problem, nearest

STEERED = ("active_clay", "volatiles", "fixed_carbon")
TARGETS = ("compactability", *COMPONENTS)


def plant_problems(
    feeders: tuple[Feeder, ...], targets: tuple[Target, ...], muller: Muller, loop: Loop
) -> list[Problem]:
    """Everything that no foundry can have."""
    return [
        *_feeder_set(feeders),
        *(problem for feeder in feeders for problem in _feeder(feeder)),
        *_targets(targets),
        *_muller(muller),
        *loop_problems(loop),
    ]


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
