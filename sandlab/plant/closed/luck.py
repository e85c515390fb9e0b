"""What nobody at the plant can choose, batch by batch: stops, jobs, weather, cooler, feeders, lots, probes.

Time runs from a Monday 06:00 UTC; three shifts work until Saturday 06:00. Each stream has its own generator:
the same seed has the same luck in every scenario and under every controller.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from sandlab.plant.closed.ranges import Plant
from sandlab.plant.closed.upsets import acting
from sandlab.plant.drivers import wandering
from sandlab.plant.parameters import JOBS

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

START_US = int(datetime(2025, 1, 6, 6, tzinfo=UTC).timestamp()) * 1_000_000
HOUR_US = 3_600_000_000
PER_HOUR = 20
WEEK_H, WORKED_H = 168, 120
_STREAMS = (
    "plant",
    "stops",
    "jobs",
    "weather",
    "cooler",
    "feeders",
    "lots",
    "probes",
    "sand",
    "tests",
    "upsets",
)
_SALT = 4711


def stream(seed: int, name: str) -> np.random.Generator:
    """The random generator of one stream of one seed."""
    return np.random.default_rng((_SALT, seed, _STREAMS.index(name)))


@dataclass(frozen=True, slots=True)
class Run:
    """One lot of one job: batches `first` to before `after`, as planned and as it is.

    factor: of the wear factors, by this job's castings
    """

    job: str
    first: int
    after: int
    sand_to_metal: float
    core_share: float
    planned_metal: float
    planned_core: float
    factor: float


@dataclass(frozen=True, slots=True)
class Lot:
    """One delivery, fed from batch `first` on: what it truly is, and the certificate's error."""

    first: int
    assay: float
    moisture: float
    certificate: float


@dataclass(frozen=True, slots=True)
class Luck:
    """One value per batch unless said otherwise; factors multiply what is weighed."""

    at_us: Ints
    gap_h: Floats
    day: Floats
    ambient: Floats
    cooled_moisture: Floats
    cooled_temperature: Floats
    charge: Floats
    bentonite: Floats
    carbon: Floats
    new_sand: Floats
    water: Floats
    slow: Floats
    weighing: Floats
    demand: Floats
    bond: Floats
    probe_moisture: Floats
    probe_temperature: Floats
    run: Ints
    runs: tuple[Run, ...]
    clay_lots: tuple[Lot, ...]
    coal_lots: tuple[Lot, ...]

    @property
    def batches(self) -> int:
        """How many batches are made."""
        return self.at_us.size


def draw_luck(plant: Plant, seed: int, scenario: str, days: int) -> Luck:
    """The luck of one seed in one scenario over so many days."""
    hours = np.array([hour for hour in range(24 * days) if hour % WEEK_H < WORKED_H], dtype=np.int64)
    slots = _slots(plant, stream(seed, "stops"), hours.size * PER_HOUR)
    hour = hours[slots // PER_HOUR]
    clock = hour + slots % PER_HOUR / PER_HOUR
    count = slots.size
    gap = np.diff(clock, prepend=clock[:1] - 1.0 / PER_HOUR) - 1.0 / PER_HOUR
    day = slots / (24.0 * PER_HOUR)
    effect = acting(scenario, stream(seed, "upsets"), day)
    runs = _runs(plant, stream(seed, "jobs"), effect)
    run = np.repeat(np.arange(len(runs)), [one.after - one.first for one in runs])
    ambient = _ambient(plant, stream(seed, "weather"), clock) + effect["ambient"]
    cooler, sand, probes = stream(seed, "cooler"), stream(seed, "sand"), stream(seed, "probes")
    memory = PER_HOUR * plant.cooled_moisture_memory
    heat = np.array([1.0 / one.sand_to_metal for one in runs])[run] - 1.0 / plant.sand_to_metal
    rise = plant.return_rise + plant.pour_heat * heat + _wander(cooler, count, plant.return_rise_sd, memory)
    feeds, slow = _feeds(plant, stream(seed, "feeders"), effect)
    lots = stream(seed, "lots")
    week = clock // WEEK_H
    probe_memory = PER_HOUR * plant.probe_memory
    return Luck(
        at_us=START_US + np.rint(clock * HOUR_US).astype(np.int64),
        gap_h=np.where(gap > 0.01, gap, 0.0),
        day=day,
        ambient=ambient,
        cooled_moisture=plant.cooled_moisture
        + _wander(cooler, count, plant.cooled_moisture_sd, memory)
        - 0.02 * effect["ambient"],
        cooled_temperature=ambient + np.maximum(2.0, rise),
        charge=1.0 + plant.charge_scatter * sand.standard_normal(count),
        slow=slow,
        weighing=plant.weighing_sd * sand.standard_normal((count, 3)),
        demand=_wander(sand, count, plant.demand_sd, PER_HOUR * plant.demand_memory)
        + plant.demand_scatter * sand.standard_normal(count),
        bond=plant.bond * (1.0 + _wander(sand, count, plant.bond_sd, PER_HOUR * plant.demand_memory)),
        probe_moisture=_wander(probes, count, plant.probe_moisture_drift, probe_memory)
        + plant.probe_moisture_sd * probes.standard_normal(count),
        probe_temperature=_wander(probes, count, plant.probe_temperature_drift, probe_memory)
        + plant.probe_temperature_sd * probes.standard_normal(count),
        run=run,
        runs=runs,
        clay_lots=_lots(plant, lots, week, effect["assay"], plant.bentonite_assay, plant.bentonite_moisture),
        coal_lots=_lots(plant, lots, week, effect["coal"], plant.coal_volatiles, plant.coal_moisture),
        **feeds,
    )


def _wander(random: np.random.Generator, count: int, deviation: float, memory: float) -> Floats:
    return wandering(random, count, deviation=deviation, memory=memory)


def _slots(plant: Plant, random: np.random.Generator, total: int) -> Ints:
    """The batch times that were run: a short stop of 20 to 80 minutes now and then."""
    run = np.ones(total, dtype=bool)
    place = 0.0
    while True:
        place += PER_HOUR * random.exponential(plant.stop_hours)
        length = int(random.integers(7, 27))
        if place + length + PER_HOUR >= total:
            return np.flatnonzero(run)
        run[int(place) : int(place) + length] = False


def _ambient(plant: Plant, random: np.random.Generator, clock: Floats) -> Floats:
    """Hall temperature: mild by day, warmest at 15 o'clock, and the weather's slow wandering."""
    weather = _wander(random, int(clock[-1]) + 2, plant.ambient_sd, 30.0)
    by_day = plant.ambient_day * np.cos(2.0 * np.pi * (clock + 6.0 - 15.0) / 24.0)
    return np.asarray(plant.ambient + by_day + np.interp(clock, np.arange(weather.size), weather))


def _runs(plant: Plant, random: np.random.Generator, effect: dict[str, Floats]) -> tuple[Run, ...]:
    """Lots one after the other; a lot keeps its sand:metal and cores from beginning to end."""
    kinds = np.linspace(-1.0, 1.0, len(JOBS))
    metal, core, factor = (
        1.0 + spread * random.permutation(kinds)
        for spread in (plant.job_spread, plant.core_spread, plant.wear_spread)
    )
    count, place, runs = effect["metal"].size, 0, []
    while place < count:
        job = int(random.integers(len(JOBS)))
        until = min(count, place + int(PER_HOUR * plant.job_hours * random.uniform(0.6, 1.4)))
        planned_metal = plant.sand_to_metal * metal[job] * (1.0 + effect["metal"][place])
        planned_core = plant.core_share * core[job] + effect["cores"][place]
        luck = 1.0 + plant.lot_spread * random.standard_normal(2)
        runs.append(
            Run(
                JOBS[job].name,
                place,
                until,
                float(planned_metal * luck[0]),
                float(planned_core * luck[1]),
                float(planned_metal),
                float(planned_core),
                float(factor[job]),
            )
        )
        place = until
    return tuple(runs)


def _feeds(
    plant: Plant, random: np.random.Generator, effect: dict[str, Floats]
) -> tuple[dict[str, Floats], Floats]:
    """True over weighed kg of each feeder, and the part of the first two that changes slowly."""
    count = effect["bentonite"].size
    memory = PER_HOUR * plant.feeder_memory
    feeds, slow = {}, []
    for name in ("bentonite", "carbon", "new_sand", "water"):
        wet = name == "water"
        bias = _wander(random, count, plant.water_bias if wet else plant.feeder_bias, memory)
        steady = (1.0 + bias) * (1.0 + effect.get(name, 0.0))
        scatter = (plant.water_scatter if wet else plant.feeder_scatter) * random.standard_normal(count)
        feeds[name] = steady * (1.0 + scatter)
        slow.append(steady)
    return feeds, np.stack(slow)


def _lots(
    plant: Plant, random: np.random.Generator, week: Floats, effect: Floats, assay: float, moisture: float
) -> tuple[Lot, ...]:
    """One lot a week, and another when the supplier changes."""
    firsts = [0, *(np.flatnonzero(np.diff(week) + np.diff(effect)) + 1).tolist()]
    return tuple(
        Lot(
            first,
            float(assay * (1.0 + effect[first]) * (1.0 + plant.lot_sd * random.standard_normal())),
            float(moisture * (1.0 + 0.05 * random.standard_normal())),
            float(1.0 + plant.certificate_sd * random.standard_normal()),
        )
        for first in firsts
    )
