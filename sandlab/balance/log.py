"""What was made, poured and delivered, in the order of the sand's own time, whenever it was told."""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any, TypeVar

import numpy as np

from sandlab.balance.batch import dry_mass
from sandlab.balance.composition import COMPONENTS, Floats
from sandlab.balance.passage import Charged
from sandlab.balance.stream import (
    BatchMade,
    FeederWeighed,
    Outlook,
    PlantModel,
    Production,
    Receipt,
    ResultKnown,
    StockCounted,
)

Key = tuple[int, str, float, int, bool]
MOST_JOBS = 8  # jobs that get a wear of their own


Timed = TypeVar("Timed", bound=tuple[Any, ...])


@dataclass(frozen=True, slots=True)
class Way:
    """What a batch meets behind the muller: sand:metal and cores per dry sand [kg/kg], its job."""

    sand_to_metal: float
    core: float
    job: int = -1


class Log:
    """Batches, results, jobs and lots of one plant; feeders are those that bring dry mass, in their order."""

    def __init__(self, plant: PlantModel) -> None:
        self.plant = plant
        self.feeders = tuple(f for f in plant.feeders if f.material.kind != "water")
        self.usual_kg = np.array([f.present_kg for f in self.feeders])
        self.usual_dry_kg = dry_mass(plant.muller.batch_kg, plant.muller.return_moisture)
        self.jobs: dict[str, int] = {}
        self.default = self.way(plant.loop.sand_to_metal, plant.loop.core_sand_t_per_t)
        self.batches: list[BatchMade] = []
        self.at: list[int] = []
        self.results: list[Key] = []
        self.newest: dict[str, Key] = {}
        self.counts: Counter[str] = Counter()
        self._jobs: list[tuple[int, int, Way]] = []
        self._planned: list[tuple[int, int, Way]] = []
        self._lots: list[tuple[int, Receipt]] = []
        self.counted: list[StockCounted] = []
        self._weighed: list[tuple[int, int, float]] = []
        self._assays: list[tuple[int, Floats, Floats]] = [
            (
                0,
                np.array([f.material.assay_vector for f in self.feeders]).reshape(-1, len(COMPONENTS)),
                np.array([f.material.dry_share for f in self.feeders]),
            )
        ]

    def way(self, sand_to_metal: float, core_t_per_t: float, job: str = "") -> Way:
        """The way of a job: its core sand joins as far as it stays; jobs are numbered as they turn up."""
        if job and job not in self.jobs and len(self.jobs) < MOST_JOBS:
            self.jobs[job] = len(self.jobs)
        core = self.plant.loop.core_retention * core_t_per_t / sand_to_metal
        return Way(sand_to_metal, core, self.jobs.get(job, -1))

    def index(self, at_us: int) -> int:
        """The batch that was the last one at a time; the first one for anything before."""
        return max(0, bisect_right(self.at, at_us) - 1)

    def made(self, batch: BatchMade) -> int:
        """Take in a batch; one at the same time is replaced. Returns the first batch that changes."""
        place = bisect_left(self.at, batch.at_us)
        if place < len(self.at) and self.at[place] == batch.at_us:
            self.batches[place] = batch
        else:
            self.at.insert(place, batch.at_us)
            self.batches.insert(place, batch)
        return max(0, place - 1)

    def poured(self, production: Production) -> int:
        """Take in what was poured. Returns the first batch that changes."""
        per_t = production.core_sand_t / production.metal_t if production.metal_t > 0.0 else 0.0
        way = self.way(production.sand_to_metal, per_t, production.job)
        self._jobs = [job for job in self._jobs if job[0] != production.at_us]
        insort(self._jobs, (production.at_us, production.until_us, way), key=lambda job: job[0])
        return bisect_left(self.at, production.at_us)

    def planned(self, outlook: Outlook) -> None:
        """Keep the schedule, for batches whose production is not written down yet."""
        for job in outlook.jobs:
            way = self.way(job.sand_to_metal, job.core_sand_t_per_t, job.job)
            self._planned = [old for old in self._planned if old[0] < job.from_us]
            self._planned.append((job.from_us, job.until_us, way))
        del self._planned[:-200]

    def received(self, receipt: Receipt) -> int:
        """Take in a lot. Returns the first batch that changes."""
        insort(self._lots, (receipt.at_us, receipt), key=lambda lot: (lot[0], lot[1].material, lot[1].lot))
        del self._assays[1:]
        for at_us, lot in self._blended():
            assays, dry = self._assays[-1][1].copy(), self._assays[-1][2].copy()
            for place, feeder in enumerate(self.feeders):
                if feeder.material.id == lot.material:
                    for name, value in lot.assay.items():
                        assays[place, COMPONENTS.index(name)] = value
                    dry[place] = dry[place] if lot.moisture is None else 1.0 - lot.moisture / 100.0
            self._assays.append((at_us, assays, dry))
        return bisect_left(self.at, receipt.at_us)

    def _blended(self) -> Iterator[tuple[int, Receipt]]:
        """Lots in the order of their feeding; what was filled in together is one lot, by its kilograms."""
        for (at_us, _), together in groupby(self._lots, key=lambda lot: (lot[0], lot[1].material)):
            lots = [lot for _, lot in together]
            yield at_us, lots[0] if len(lots) == 1 else blend(lots)

    def lots_of(self, material: str) -> list[Receipt]:
        """Receipts of one material, oldest first."""
        return [lot for _, lot in self._lots if lot.material == material]

    def weighed_out(self, event: FeederWeighed) -> int:
        """Take in a feeder weighed out. Returns the first batch that changes."""
        for place, feeder in enumerate(self.feeders):
            if feeder.id == event.feeder:
                insort(self._weighed, (event.at_us, place, event.weighed_kg / event.shown_kg - 1.0))
        return self.index(event.at_us)

    def weighed_of(self, index: int) -> list[tuple[int, int, float]]:
        """Feeders weighed out between one batch and the next: time, place of the feeder, relative error."""
        return _between(self._weighed, self.at, index)

    @property
    def any_poured(self) -> bool:
        """Whether any production is written down."""
        return bool(self._jobs)

    def poured_at(self, at_us: int) -> bool:
        """Whether the production of sand made at a time is written down."""
        place = bisect_right(self._jobs, at_us, key=lambda job: job[0]) - 1
        return place >= 0 and at_us <= self._jobs[place][1]

    def tested(self, result: ResultKnown) -> int:
        """Take in a result. Returns the first batch that changes."""
        key = (result.taken_us, result.property, result.value, result.known_us, result.doubtful)
        insort(self.results, key)
        self.counts[result.property] += 1
        self.newest[result.property] = max(key, self.newest.get(result.property, key))
        return self.index(result.taken_us)

    def tests_since(self, name: str, at_us: int) -> int:
        """Results of a property whose sand was taken at a time or later."""
        return sum(one[1] == name for one in self.results[bisect_left(self.results, (at_us,)) :])

    def first_of(self, names: Sequence[str]) -> int | None:
        """When the sand of the first result of any of these properties was taken, None without one."""
        return next((taken for taken, name, *_ in self.results if name in names), None)

    def results_of(self, index: int) -> list[Key]:
        """Results of the sand of one batch, by time and name."""
        return _between(self.results, self.at, index)

    def way_at(self, at_us: int) -> Way:
        """The job of sand made at a time: as poured, else as planned, else the plant's usual one."""
        job = self._job_at(at_us)
        return self.default if job is None else job[2]

    def told_until(self, at_us: int) -> int:
        """From when on, not before a time, no job is poured or planned."""
        while (job := self._job_at(at_us)) is not None:
            at_us = job[1] + 1
        return at_us

    def _job_at(self, at_us: int) -> tuple[int, int, Way] | None:
        for jobs in (self._jobs, self._planned):
            place = bisect_right(jobs, at_us, key=lambda job: job[0]) - 1
            if place >= 0 and at_us <= jobs[place][1]:
                return jobs[place]
        return None

    def assays_at(self, at_us: int) -> tuple[Floats, Floats]:
        """Assays [% of dry] and dry shares of what the feeders hold at a time."""
        _, assays, dry = self._assays[bisect_right(self._assays, at_us, key=lambda lot: lot[0]) - 1]
        return assays, dry

    def lots_between(self, after_us: int, until_us: int) -> list[Receipt]:
        """Lots that began to be fed after one time and not after another."""
        first = bisect_right(self._lots, after_us, key=lambda lot: lot[0])
        last = bisect_right(self._lots, until_us, key=lambda lot: lot[0])
        return [lot for _, lot in self._lots[first:last]]

    def added(self, added_kg: dict[str, float]) -> Floats:
        """Additions in the order of the feeders [kg as weighed]; one not named is as set at the start."""
        return np.array(
            [added_kg.get(f.id, kg) for f, kg in zip(self.feeders, self.usual_kg.tolist(), strict=True)]
        )

    def charged(self, index: int) -> Charged:
        """What went into one batch, dry, and where it went."""
        batch = self.batches[index]
        assays, dry = self.assays_at(batch.at_us)
        moist, way = batch.return_sand_kg, self.way_at(batch.at_us)
        share = self.usual_dry_kg / self.plant.muller.batch_kg
        return Charged(
            dry_kg=self.usual_dry_kg if moist is None else moist * share,
            added_kg=self.added(dict(batch.added_kg)) * dry,
            assays=assays,
            sand_to_metal=way.sand_to_metal,
            core=way.core,
            job=way.job,
        )


def blend(lots: Sequence[Receipt]) -> Receipt:
    """Lots that were filled in together as one, by their kilograms; equal shares where none are told."""
    kg = [lot.kg for lot in lots] if all(lot.kg > 0.0 for lot in lots) else [1.0] * len(lots)

    def mean(values: Sequence[float | None]) -> float | None:
        told = [(weight, value) for weight, value in zip(kg, values, strict=True) if value is not None]
        return sum(w * v for w, v in told) / sum(w for w, _ in told) if told else None

    names = dict.fromkeys(name for lot in lots for name in lot.assay)
    assay = {name: mean([lot.assay.get(name) for lot in lots]) for name in names}
    known = {name: value for name, value in assay.items() if value is not None}
    label = " and ".join(lot.lot for lot in lots)
    return replace(lots[0], lot=label, assay=known, moisture=mean([lot.moisture for lot in lots]))


def _between(timed: list[Timed], at: list[int], index: int) -> list[Timed]:
    """What belongs to the sand of one batch: to the first one also what lies before it."""
    first = bisect_left(timed, (at[index],)) if index else 0
    last = bisect_left(timed, (at[index + 1],)) if index + 1 < len(at) else len(timed)
    return timed[first:last]
