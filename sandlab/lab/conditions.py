"""What the balance needs to know, gathered from specs and records."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import TypeVar

import polars as pl

from sandlab import balance, schedule
from sandlab.lab.judging import stored_state
from sandlab.lab.opening import Lab
from sandlab.records import Acknowledgement, Batch, Override, Release

Answer = TypeVar("Answer", Acknowledgement, Override)

STEERED = ("compactability", *balance.COMPONENTS)
RETURN_SAND = ("return_moisture", "return_temperature")
# How many tests of each kind a recommendation looks back on.
TESTS = 30
SETTINGS = 100


def gather(lab: Lab, now: datetime) -> balance.AdviceInputs:
    """The inputs of a recommendation for the next batches."""
    sand = lab.sand
    loop = sand.loop.model_dump()
    return balance.AdviceInputs(
        feeders=_feeders(lab),
        targets=tuple(
            balance.Target(key, sand.targets[key].target, sand.targets[key].tolerance)
            for key in STEERED
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
        loop=balance.Loop(**loop),
        tests=_tests(lab, now),
        temper_tests=_temper_tests(lab, now),
        usual={key: one.target for key, one in sand.targets.items() if key in balance.COMPONENTS},
    )


def present_kg(lab: Lab) -> Mapping[str, float]:
    """What each feeder is set to now: the operator's override, else the release, else the reference."""
    kg = {name: feeder.reference_kg for name, feeder in lab.sand.feeders.items()}
    release = newest_release(lab)
    if release is not None:
        kg |= release.added_kg
        override = answer_to(lab, release, Override)
        if override is not None:
            kg |= override.added_kg
    return {name: value for name, value in kg.items() if name in lab.sand.feeders}


def newest_release(lab: Lab) -> Release | None:
    """The release in force: the last one."""
    found = lab.store.records(Release, lab.system, last=1)
    return found[-1] if found else None


def answer_to(lab: Lab, release: Release, kind: type[Answer]) -> Answer | None:
    """The operator's last acknowledgement or override of a release."""
    found = [
        one for one in lab.store.records(kind, lab.system, since=release.at) if one.release == release.id
    ]
    return found[-1] if found else None


def _feeders(lab: Lab) -> tuple[balance.Feeder, ...]:
    present = present_kg(lab)
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


def _minutes(now: datetime, at: datetime) -> float:
    return (now - at) / timedelta(minutes=1)


def _doubtful(lab: Lab, key: str, value: float) -> bool:
    return stored_state(lab, key, value) == "doubtful"


def _tests(lab: Lab, now: datetime) -> dict[str, tuple[balance.Reading, ...]]:
    found = {}
    for key in (*balance.COMPONENTS, "sand_temperature", *RETURN_SAND):
        if key not in lab.specs.properties:
            continue
        frame = _recent(lab, key, now)
        found[key] = tuple(
            balance.Reading(value, _minutes(now, at), _doubtful(lab, key, value))
            for at, value in frame.select("taken_at", "value").iter_rows()
        )
    return found


def _recent(lab: Lab, key: str, now: datetime) -> pl.DataFrame:
    point = schedule.home_point(lab.sand, key)
    frame = lab.store.results(lab.system, key, point=point, until=now, last=TESTS)
    return frame.filter(pl.col("censored") == "")


def _temper_tests(lab: Lab, now: datetime) -> tuple[balance.TemperTest, ...]:
    """Compactability with the moisture of the same sample and the water really added before it."""
    frame = _recent(lab, "compactability", now)
    if frame.is_empty():
        return ()
    moisture = dict(_recent(lab, "moisture", now).select("sample", "value").iter_rows())
    since = frame["taken_at"][0] - timedelta(hours=2)
    water = _Before(sorted([*_water_added(lab, since), *_water_set(lab)]), timedelta.max)
    belt = {key: _Before(_points(lab, key, since, now), timedelta(hours=3)) for key in RETURN_SAND}
    return tuple(
        balance.TemperTest(
            age_min=_minutes(now, at),
            compactability=value,
            moisture=moisture.get(sample),
            water_kg=water.at(at),
            return_moisture=belt["return_moisture"].at(at),
            return_temperature=belt["return_temperature"].at(at),
            doubtful=_doubtful(lab, "compactability", value),
        )
        for sample, at, value in frame.select("sample", "taken_at", "value").iter_rows()
    )


def _water_set(lab: Lab) -> list[tuple[datetime, float]]:
    """What the water feeder was set to, from when on: counts until a batch made later is logged."""
    feeders = _water_feeders(lab)
    start = sum(lab.sand.feeders[name].reference_kg for name in feeders)
    settings = [(datetime.min.replace(tzinfo=UTC), start)]
    kinds: tuple[type[Release] | type[Override], ...] = (Release, Override)
    for kind in kinds:
        for one in lab.store.records(kind, lab.system, last=SETTINGS):
            settings.append((one.at, sum(one.added_kg.get(name, 0.0) for name in feeders)))
    return sorted(settings)


def _water_feeders(lab: Lab) -> list[str]:
    return [
        name for name, one in lab.sand.feeders.items() if lab.specs.materials[one.material].kind == "water"
    ]


def _water_added(lab: Lab, since: datetime) -> list[tuple[datetime, float]]:
    feeders = _water_feeders(lab)
    return [
        (batch.at, sum(batch.added_kg.get(name, 0.0) for name in feeders))
        for batch in lab.store.records(Batch, lab.system, since=since)
    ]


def _points(lab: Lab, key: str, since: datetime, now: datetime) -> list[tuple[datetime, float]]:
    point = schedule.home_point(lab.sand, key)
    frame = lab.store.results(lab.system, key, point=point, since=since, until=now)
    return list(frame.select("taken_at", "value").iter_rows())


class _Before:
    """The last value known before a time, if it is not too old."""

    def __init__(self, points: list[tuple[datetime, float]], oldest: timedelta) -> None:
        self._times = [at for at, _ in points]
        self._values = [value for _, value in points]
        self._oldest = oldest

    def at(self, moment: datetime) -> float | None:
        """The value, None when there is none within reach."""
        place = bisect_right(self._times, moment) - 1
        if place < 0 or moment - self._times[place] > self._oldest:
            return None
        return self._values[place]
