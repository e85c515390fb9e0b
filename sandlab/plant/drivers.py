"""What the foundry cannot choose, drawn per seed: jobs, weather, cooler, feeders, short stops.

Each stream has its own generator, so that a run with one fault less has the same luck in everything else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np
import numpy.typing as npt

from sandlab.plant.calendar import BATCHES_PER_HOUR, Calendar
from sandlab.plant.faults import Fault
from sandlab.plant.parameters import (
    CORE_JOB,
    JOBS,
    USUAL_AMBIENT,
    USUAL_COOLED_MOISTURE,
    Parameters,
    drawn,
)

Floats = npt.NDArray[np.float64]
STREAMS = (
    "parameters",
    "weather",
    "jobs",
    "cooler",
    "feeders",
    "stops",
    "tests",
    "timing",
    "ids",
    "readings",
    "deliveries",
)


def stream(seed: int, name: str) -> np.random.Generator:
    """The random generator of one stream of one seed."""
    return np.random.default_rng((seed, STREAMS.index(name)))


def wandering(random: np.random.Generator, count: int, *, deviation: float, memory: float) -> Floats:
    """A stationary first-order autoregressive series that forgets over `memory` steps."""
    keep = float(np.exp(-1.0 / memory))
    noise = random.standard_normal(count) * deviation
    noise[1:] *= (1.0 - keep * keep) ** 0.5
    return np.array(list(accumulate(noise.tolist(), lambda last, shock: keep * last + shock)))


@dataclass(frozen=True, slots=True)
class Drivers:
    """One plant's luck, one value per batch; `slots` are the batch times actually run."""

    parameters: Parameters
    slots: npt.NDArray[np.int64]
    gap_hours: Floats
    ambient: Floats
    sand_to_metal: Floats
    core_share: Floats
    job: npt.NDArray[np.int64]
    cooled_moisture: Floats
    return_extra: Floats
    probe: Floats
    water_bias: Floats
    water_scatter: Floats
    bentonite_factor: Floats
    carbon_factor: Floats
    clay_assay: Floats
    dosing: Floats


def draw(seed: int, calendar: Calendar, faults: Sequence[Fault]) -> Drivers:
    """The drivers of one seed with the given faults."""
    slots = _slots_run(stream(seed, "stops"), calendar)
    hour = slots // BATCHES_PER_HOUR
    count = slots.size
    clock = calendar.clock_hours[hour] + (slots % BATCHES_PER_HOUR) / BATCHES_PER_HOUR
    gap = np.diff(clock, prepend=clock[:1]) - 1.0 / BATCHES_PER_HOUR
    cooler, feeders = stream(seed, "cooler"), stream(seed, "feeders")
    job, metal, core = _jobs(stream(seed, "jobs"), calendar)
    acting = {kind: _acting(kind, faults, calendar.slots, slots) for kind in _KINDS}
    shared = acting["core_job"] / CORE_JOB.core_share
    hot = acting["hot_spell"]
    return Drivers(
        parameters=drawn(stream(seed, "parameters")),
        slots=slots,
        gap_hours=np.where(gap > 0.01, gap, 0.0),
        ambient=_ambient(stream(seed, "weather"), calendar)[hour] + hot,
        sand_to_metal=metal[slots] * (1.0 - shared) + CORE_JOB.sand_to_metal * shared,
        core_share=core[slots] * (1.0 - shared) + acting["core_job"],
        job=np.where(acting["core_job"] > 0.0, len(JOBS), job[slots]),
        cooled_moisture=USUAL_COOLED_MOISTURE
        + wandering(cooler, count, deviation=0.16, memory=60.0)
        - 0.02 * hot,
        return_extra=wandering(cooler, count, deviation=1.8, memory=60.0) + 0.1 * hot,
        probe=wandering(cooler, count, deviation=0.07, memory=100.0),
        water_bias=acting["water_meter"],
        water_scatter=0.25 * feeders.standard_normal(count),
        bentonite_factor=(1.0 + acting["bentonite_feeder"]) * _feeding(feeders, count),
        carbon_factor=(1.0 + acting["carbon_feeder"]) * _feeding(feeders, count),
        clay_assay=1.0
        + acting["bentonite_assay"]
        - 0.012 * np.abs(wandering(feeders, count, deviation=1.0, memory=1200.0)),
        dosing=0.1 * feeders.standard_normal((count, 3)),
    )


_KINDS = ("bentonite_feeder", "bentonite_assay", "hot_spell", "core_job", "water_meter", "carbon_feeder")


def _acting(kind: str, faults: Sequence[Fault], total: int, slots: npt.NDArray[np.int64]) -> Floats:
    """How far the faults of one kind act at each batch, in their own unit."""
    effect = np.zeros(slots.size)
    to_end = (total - slots) / BATCHES_PER_HOUR
    for fault in faults:
        if fault.kind == kind:
            age = fault.start_h - to_end
            growth = np.clip(age / fault.ramp_h, 0.0, 1.0) if fault.ramp_h > 0.0 else 1.0
            effect += np.where((age >= 0.0) & (age < fault.duration_h), fault.amount * growth, 0.0)
    return effect


def _feeding(random: np.random.Generator, count: int) -> Floats:
    """True over displayed feed: a slowly wandering bias and the scatter of a screw."""
    bias = wandering(random, count, deviation=0.016, memory=600.0)
    return np.asarray(1.0 + bias + 0.02 * random.standard_normal(count))


def _slots_run(random: np.random.Generator, calendar: Calendar) -> npt.NDArray[np.int64]:
    """The batch times that were run: a short stop of 20 to 80 minutes about every second day."""
    run = np.ones(calendar.slots, dtype=bool)
    place = 0.0
    while True:
        place += random.exponential(45.0) * BATCHES_PER_HOUR + 6.0 * BATCHES_PER_HOUR
        length = int(random.integers(7, 27))
        if place + length + BATCHES_PER_HOUR >= calendar.slots:
            return np.flatnonzero(run)
        run[int(place) : int(place) + length] = False


def _ambient(random: np.random.Generator, calendar: Calendar) -> Floats:
    """Hall temperature at each running hour: mild by day, and the weather's slow wandering."""
    span = int(calendar.clock_hours[-1]) + 1
    weather = wandering(random, span, deviation=0.7, memory=24.0)
    day = np.array([np.cos(2.0 * np.pi * (local.hour - 15) / 24.0) for local in calendar.locals])
    return np.asarray(USUAL_AMBIENT + day + weather[calendar.clock_hours])


def _jobs(random: np.random.Generator, calendar: Calendar) -> tuple[npt.NDArray[np.int64], Floats, Floats]:
    """Job, sand:metal and core share at each slot; a job lasts 4 to 9 hours, and lots differ a little."""
    job = np.zeros(calendar.slots, dtype=np.int64)
    metal, core = np.zeros(calendar.slots), np.zeros(calendar.slots)
    weights = np.array([entry.weight for entry in JOBS])
    place = 0
    while place < calendar.slots:
        number = int(random.choice(len(JOBS), p=weights / weights.sum()))
        until = place + int(random.uniform(4.0, 9.0) * BATCHES_PER_HOUR)
        job[place:until] = number
        metal[place:until] = JOBS[number].sand_to_metal * (1.0 + 0.05 * random.standard_normal())
        core[place:until] = JOBS[number].core_share
        place = until
    return job, metal, core
