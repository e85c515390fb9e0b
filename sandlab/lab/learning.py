"""The plant that learns: its start values from the specs, and the recommender that was told what happened."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from sandlab import balance
from sandlab.balance.recommender import Recommender
from sandlab.balance.stream import PlantModel
from sandlab.lab.conditions import present_kg
from sandlab.lab.happened import happened
from sandlab.lab.opening import Lab

# What an advice looks back on: about ten passes round the system; older tests say next to nothing of it.
WINDOW = timedelta(days=10)


def learned_plant(lab: Lab, *, window: timedelta = WINDOW) -> Recommender:
    """The recommender of this sand system, told what happened in the window, as known now."""
    now = lab.now()
    return told_plant(lab, window_start(now, window), now)


def told_plant(lab: Lab, since: datetime, until: datetime) -> Recommender:
    """The recommender told what happened from `since` on, as known at `until`."""
    recommender = Recommender(plant_model(lab))
    for event in happened(lab, since=since, until=until):
        recommender.note(event)
    return recommender


def window_start(now: datetime, window: timedelta) -> datetime:
    """The UTC midnight at which a window begins: one start for every terminal all day long."""
    return (now - window).astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)


def plant_model(lab: Lab) -> PlantModel:
    """The sand system before its own data speak: specs, and what the feeders are set to now."""
    sand = lab.sand
    return PlantModel(
        feeders=_feeders(lab, present_kg(lab)),
        targets=tuple(
            balance.Target(key, sand.targets[key].target, sand.targets[key].tolerance)
            for key in ("compactability", *balance.COMPONENTS)
            if key in sand.targets
        ),
        muller=balance.Muller(
            batch_kg=sand.muller.batch_kg,
            work_kwh_per_t=sand.muller.work_kwh_per_t,
            discharge_eta=sand.muller.discharge_eta,
            ambient_temperature=sand.muller.ambient_temperature,
            return_moisture=sand.muller.return_moisture,
            return_temperature=sand.muller.return_temperature,
        ),
        loop=balance.Loop(**sand.loop.model_dump()),
        stock_t=sand.stock.sand_t,
        batches_per_h=sand.muller.batches_per_h,
    )


def _feeders(lab: Lab, present: Mapping[str, float]) -> tuple[balance.Feeder, ...]:
    return tuple(
        balance.Feeder(
            id=name,
            material=_material(lab, feeder.material),
            minimum_kg=feeder.minimum_kg,
            maximum_kg=feeder.maximum_kg,
            resolution_kg=feeder.resolution_kg,
            greatest_step_kg=feeder.greatest_step_kg,
            present_kg=present[name],
        )
        for name, feeder in lab.sand.feeders.items()
    )


def _material(lab: Lab, key: str) -> balance.Material:
    entry = lab.specs.materials[key]
    return balance.Material(
        id=key,
        kind=entry.kind,
        moisture=entry.moisture,
        assay={str(name): share for name, share in entry.assay.items()},
        temperature=entry.temperature,
        cost_per_t=entry.cost_per_t,
    )
