"""The history of the invented foundry up to a given hour, as records."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import numpy as np

from sandlab.plant.calendar import Calendar, full_hour, team_of
from sandlab.plant.drivers import stream
from sandlab.plant.faults import BASELINE_FROM_H, BASELINE_TO_H, DEMO_FAULTS, Fault
from sandlab.plant.happenings import events, production, receipts
from sandlab.plant.laboratory import Written, sieved, write_down
from sandlab.plant.running import Course, run
from sandlab.plant.visits import NOISE, SETS, sets_due
from sandlab.records import Batch, Event, Production, Receipt, Result, Sample

ZONE = "Europe/Copenhagen"
DEMO_SEED, DEMO_DAYS = 7, 90
WARM_UP = timedelta(days=7)
TECHNICIANS = ("M. Oduya", "T. Brandvik", "S. Kettering")
OPERATORS = ("R. Penhale", "J. Sorrel", "D. Vint")
POINT = {"belt": "return_belt"}
MATERIALS = ("water", "bentonite", "carbon", "new_sand")


@dataclass(frozen=True, slots=True)
class History:
    """Everything written down at the foundry up to one hour, each in order of time."""

    samples: tuple[Sample, ...]
    batches: tuple[Batch, ...]
    receipts: tuple[Receipt, ...]
    production: tuple[Production, ...]
    events: tuple[Event, ...]


def simulate(
    seed: int,
    until: datetime,
    *,
    days: int = DEMO_DAYS,
    faults: Sequence[Fault] | None = DEMO_FAULTS,
    specs_hash: str,
    system: str = "main",
    zone: str = ZONE,
) -> History:
    """The foundry's records of `days` days up to the last full hour before `until`.

    The same seed, hour and faults give the same records, ids included.
    """
    end = full_hour(until)
    calendar = Calendar(end - timedelta(days=days) - WARM_UP, end, ZoneInfo(zone))
    start = end - timedelta(days=days)
    planted = tuple(faults or ())
    (course,), _ = run([(seed, planted)], calendar, keep_batches=True)
    writer = _Writer(course, seed, system, specs_hash, start, end)
    return History(
        samples=writer.samples(),
        batches=writer.batches(),
        receipts=receipts(course, planted, writer.identity, system, start),
        production=production(course, writer.identity, system, start),
        events=events(course, planted, writer.identity, system, start),
    )


def quiet_baseline(until: datetime, *, zone: str = ZONE) -> tuple[datetime, datetime]:
    """The window of the demo history in which no planted fault acts: where baselines are frozen."""
    end = full_hour(until)
    calendar = Calendar(end - timedelta(days=DEMO_DAYS) - WARM_UP, end, ZoneInfo(zone))
    return calendar.before_end(BASELINE_FROM_H), calendar.before_end(BASELINE_TO_H)


class _Writer:
    """Turns one course into records."""

    def __init__(
        self, course: Course, seed: int, system: str, specs_hash: str, start: datetime, end: datetime
    ) -> None:
        self.course, self.system, self.specs_hash = course, system, specs_hash
        self.start, self.end = start, end
        self._ids = stream(seed, "ids")
        self._readings = stream(seed, "readings")

    def identity(self) -> str:
        """The next id: uuid4 text from the seed."""
        return str(UUID(bytes=self._ids.bytes(16), version=4))

    def samples(self) -> tuple[Sample, ...]:
        """One sample per test set and visit, with the results known by the end."""
        course, calendar = self.course, self.course.calendar
        measured = course.measured()
        written: list[Sample] = []
        for hour, batch in enumerate(course.visits.batch.tolist()):
            at = course.visits.moment(calendar, hour)
            if batch < 0 or at < self.start:
                continue
            due = sets_due(calendar.locals[hour])
            for name in (name for name in SETS if name in due):
                values = {key: float(measured[key][hour]) for key in SETS[name]}
                sample = self._sample(name, at, values, TECHNICIANS[team_of(calendar.locals[hour])])
                if sample is not None:
                    written.append(sample)
        return tuple(written)

    def _sample(self, name: str, at: datetime, values: dict[str, float], by: str) -> Sample | None:
        identity = self.identity()
        results = [
            entry.result(key, known)
            for key, entry in self._written(values).items()
            if (known := at + timedelta(minutes=NOISE[key][1])) <= self.end
        ]
        if not results:
            return None
        return Sample(
            id=identity,
            system=self.system,
            at=at,
            by=by,
            recorded_at=max(_known(result) for result in results),
            point=POINT.get(name, "muller_discharge"),
            specs_hash=self.specs_hash,
            source="simulated",
            results=tuple(results),
        )

    def _written(self, values: dict[str, float]) -> dict[str, Written]:
        values = dict(values)
        entries = {}
        if "grain_fineness_number" in values:
            fineness, fines = values.pop("grain_fineness_number"), values.pop("fines")
            number, below = sieved(fineness, fines, self._readings)
            entries = {"grain_fineness_number": number, "fines": below}
        return {key: write_down(key, value, self._readings) for key, value in values.items()} | entries

    def batches(self) -> tuple[Batch, ...]:
        """Every batch as weighed."""
        course, calendar = self.course, self.course.calendar
        charged = 1500.0 + 4.0 * self._readings.standard_normal(course.drivers.slots.size)
        kg = np.round(course.recorded, 1).tolist()
        written = []
        for number, slot in enumerate(course.drivers.slots.tolist()):
            at = calendar.moment(slot)
            if at < self.start:
                continue
            written.append(
                Batch(
                    id=self.identity(),
                    system=self.system,
                    at=at,
                    by=OPERATORS[team_of(at.astimezone(calendar.zone))],
                    recorded_at=at,
                    number=number,
                    return_sand_kg=round(float(charged[number])),
                    added_kg=dict(zip(MATERIALS, kg[number], strict=True)),
                )
            )
        return tuple(written)


def _known(result: Result) -> datetime:
    assert result.known_at is not None
    return result.known_at
