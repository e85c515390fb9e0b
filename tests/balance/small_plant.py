"""A small foundry for tests of the learning balance: own sand, own luck, own physics; mass by mass.

A moulding line (first in, first out) and a bunker of mixed cells; wear, cores, dust, feeders that wander,
water that dries, a laboratory with noise and delay. Nothing is shared with the package but the events. Ranges
are published for wear (foundry lexicon), the rest is common practice; every figure is drawn per seed.
"""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from sandlab.balance.inputs import Feeder, Muller, Target
from sandlab.balance.loop import Loop
from sandlab.balance.materials import Material
from sandlab.balance.stream import (
    HOUR_US,
    BatchMade,
    Controller,
    Event,
    Outlook,
    PlannedJob,
    PlantModel,
    Production,
    Receipt,
    ResultKnown,
)
from tests.balance.luck import Luck

MONDAY_US = 1_767_592_800_000_000  # 2026-01-05 06:00 UTC
BATCH_US = HOUR_US // 20
# property: sd of one result, delay in minutes, hours between samples
LAB = {
    "compactability": (1.2, 4, 1),
    "moisture": (0.06, 14, 1),
    "green_compression_strength": (5.0, 7, 1),
    "sand_temperature": (0.8, 2, 1),
    "return_moisture": (0.07, 14, 2),
    "active_clay": (0.25, 60, 6),
    "volatiles": (0.06, 120, 24),
    "loss_on_ignition": (0.10, 190, 24),
    "afs_clay": (0.30, 300, 120),
}
GRAIN, CLAY, VOLATILES, CARBON, FINES = range(5)
TARGETS = (
    Target("compactability", 42.0, 4.0),
    Target("active_clay", 8.0, 0.6),
    Target("volatiles", 1.4, 0.3),
)


@dataclass(slots=True)
class Course:
    """Truth of every batch: prepared clay, volatiles, fixed carbon, fines [%], compactability; kg fed."""

    at_us: list[int] = field(default_factory=list)
    truth: list[np.ndarray] = field(default_factory=list)
    compactability: list[float] = field(default_factory=list)
    kg: list[dict[str, float]] = field(default_factory=list)
    bands: list[tuple[int, dict]] = field(default_factory=list)
    returned: list[np.ndarray] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    settings: list[tuple[int, dict[str, float]]] = field(default_factory=list)


def plant_model(luck: Luck, *, interval_h: float = 1.0) -> PlantModel:
    """What the foundry knows of itself: handbook wear, a stock that is a little off, nominal jobs."""
    clay = Material("bentonite", "clay", 10.0, {"active_clay": 100.0}, cost_per_t=260.0)
    coal = Material(
        "coal",
        "carbon",
        3.0,
        {"volatiles": 33.0, "fixed_carbon": 53.0, "inert_fines": 14.0},
        cost_per_t=340.0,
    )
    sand = Material("new_sand", "new_sand", 0.2, {"inert_fines": 0.3}, cost_per_t=45.0)
    water = Material("water", "water", 100.0, temperature=15.0)
    loop = Loop(
        sand_to_metal=6.0,
        core_sand_t_per_t=0.05,
        core_retention=0.6,
        spill=0.05,
        dust_active_clay=0.004,
        dust_volatiles=0.004,
        dust_fixed_carbon=0.006,
        dust_inert_fines=0.08,
        dust_grain=0.001,
        carbon_ash=0.15,
    )
    feeders = (
        Feeder("bentonite", clay, 0.0, 30.0, 0.5, 2.0, 11.0),
        Feeder("coal", coal, 0.0, 25.0, 0.5, 2.0, 12.0),
        Feeder("new_sand", sand, 0.0, 80.0, 5.0, 20.0, 20.0),
        Feeder("water", water, 0.0, 70.0, 0.5, 8.0, 28.0),
    )
    stock_t = (luck.bunker_kg + luck.line * 1500.0) / 1000.0 * 0.97
    muller = Muller(1500.0, 2.0, 0.3, 22.0, 2.1, 38.0)
    return PlantModel(feeders, TARGETS, muller, loop, stock_t, 20.0, interval_h=interval_h)


JOBS = ((5.3, 0.05), (6.2, 0.02), (7.2, 0.03), (6.1, 0.10), (6.5, 0.04))


class SmallPlant:
    """The foundry; `run` closes the loop with a controller."""

    def __init__(self, seed: int, luck: Luck, *, hours: int = 240, probes: bool = True) -> None:
        self.luck, self.hours, self.probes = luck, hours, probes
        self.random = np.random.default_rng([78, seed])
        unit = np.array([0.866, 0.078, 0.014, 0.015, 0.027])
        unit = unit + np.array([0.0, *self.random.normal(0, [0.002, 0.001, 0.003, 0.004])])
        unit[GRAIN] = 1.0 - unit[1:].sum()
        self.bunker = [unit * luck.bunker_kg / luck.cells for _ in range(luck.cells)]
        self.line = deque([unit * 1480.0 for _ in range(luck.line)])
        self.return_extra = self.probe_error = self.clay_feed = self.coal_feed = 0.0
        self.in_kg = self.out_kg = 0.0

    def stock_kg(self) -> np.ndarray:
        """Dry components in line and bunker."""
        return sum(self.bunker) + sum(self.line)

    def _walk(self, value: float, sd: float, memory: float) -> float:
        keep = np.exp(-1.0 / memory)
        return float(keep * value + sd * np.sqrt(1 - keep * keep) * self.random.standard_normal())

    def moments(self) -> Iterator[tuple[int, int]]:
        """Running hour and start time: five days on, two off."""
        for hour in range(self.hours):
            week, inside = divmod(hour, 120)
            yield hour, MONDAY_US + (week * 168 + inside) * HOUR_US

    def run(self, controller: Controller) -> Course:
        """Hour by hour: schedule, advice, batches, results when they are known."""
        luck, course, due = self.luck, Course(), []
        order, job_left, job = 0, 0, 0
        new_lot = False
        for hour, start in self.moments():
            if job_left == 0:
                many = luck.mix is not None and hour > luck.mix
                job = int(
                    self.random.choice(5, p=[0.1, 0.1, 0.4, 0.3, 0.1] if many else [0.3, 0.3, 0.1, 0.1, 0.2])
                )
                job_left = int(self.random.integers(4, 9))
                lot = 1.0 + 0.05 * float(self.random.standard_normal())
            job_left -= 1
            metal, core = JOBS[job]
            true_metal, until = metal * lot, start + HOUR_US - 1
            self._tell(
                controller,
                course,
                Production(start, until, f"job {job}", 30 / metal, metal, 30 / metal * core),
            )
            if luck.supplier is not None and hour > luck.supplier and not new_lot:
                new_lot = True
                assay = {"active_clay": 100.0 * (0.88 + 0.015 * float(self.random.standard_normal()))}
                self._tell(controller, course, Receipt(start, "bentonite", "VK-1", assay, kg=24_000.0))
            answer = controller.recommend(
                start, Outlook((PlannedJob(start, until, f"job {job}", metal, core),))
            )
            kg = answer.kg
            course.settings.append((start, kg))
            course.bands.append((len(course.at_us), dict(answer.prepared)))
            strength = 1.0 if not new_lot else 0.88
            drift = 0.0
            if luck.drift is not None and hour > luck.drift[0]:
                drift = -0.15 * min(1.0, (hour - luck.drift[0]) / luck.drift[1])
            hot = luck.hot is not None and luck.hot[0] < hour < sum(luck.hot)
            for place in range(20):
                at = start + place * BATCH_US
                while due and due[0][0] <= at:
                    self._tell(controller, course, heapq.heappop(due)[2])
                truth = self._batch(controller, course, at, kg, true_metal, core, strength, drift, hot)
                for name, (sd, delay, every) in LAB.items():
                    if place == 2 and hour % every == (1 if every > 1 else 0):
                        event = self._test(name, sd, delay, at, truth, hour)
                        if event is not None:
                            order += 1
                            heapq.heappush(due, (event.known_us, order, event))
        return course

    def _tell(self, controller: Controller, course: Course, event: Event) -> None:
        course.events.append(event)
        controller.note(event)

    def _test(self, name, sd, delay, at, truth, hour) -> ResultKnown | None:
        luck = self.luck
        value = truth[name] + sd * float(self.random.standard_normal())
        if name == "active_clay":
            value += luck.operator * (1, -1, 0)[(hour // 8) % 3]
        if self.random.random() < luck.missed:
            return None
        wait = delay * (1 if self.random.random() > luck.late else 4)
        return ResultKnown(name, round(value, 4), at, at + wait * 60_000_000)

    def _batch(self, controller, course, at, kg, metal, core, strength, drift, hot) -> dict[str, float]:
        luck, r = self.luck, self.random
        self.return_extra = self._walk(self.return_extra, luck.return_sd, luck.return_memory)
        self.probe_error = self._walk(self.probe_error, 0.1, 1600.0)
        self.clay_feed = self._walk(self.clay_feed, luck.feed_sd, luck.feed_memory)
        self.coal_feed = self._walk(self.coal_feed, luck.feed_sd, luck.feed_memory)
        moisture = max(0.5, 2.1 + self.return_extra - (0.1 if hot else 0.0))
        temperature = 38.0 + 2.0 * self.return_extra + (6.0 if hot else 0.0)
        logged = {n: max(0.0, v + 0.1 * float(r.standard_normal())) for n, v in kg.items()}
        seen = max(0.1, moisture + self.probe_error + luck.probe_sd * float(r.standard_normal()))
        probe = seen if self.probes else None
        warm = temperature + 0.5 * float(r.standard_normal()) if self.probes else None
        water = controller.water(at, probe, warm, logged)
        batch = BatchMade(at, logged | {"water": water}, None, probe, warm)
        charge_dry = 1500.0 * (1 - moisture / 100)
        last = self.bunker[-1]
        taken = last * (charge_dry / last.sum())
        self.bunker[-1] = last - taken
        course.returned.append(100 * taken[1:] / taken.sum())
        prepared = taken.copy()
        clay = logged["bentonite"] * 0.9 * (1 + self.clay_feed + drift) * (1 + 0.02 * r.standard_normal())
        coal = logged["coal"] * 0.97 * (1 + self.coal_feed) * (1 + 0.02 * r.standard_normal())
        sand = logged["new_sand"] * 0.998
        prepared += clay * np.array([0, strength, 0, 0, 1 - strength])
        prepared += coal * np.array([0, 0, 0.33, 0.53, 0.14])
        prepared += sand * np.array([0.997, 0, 0, 0, 0.003])
        self.in_kg += clay + coal + sand
        dry = prepared.sum()
        x = 100 * prepared / dry
        # heat: 0.85 and 4.19 kJ/kg K, all heat above discharge evaporates water
        discharge = 22 + 0.7 * (temperature - 22)
        wet = 1500 - charge_dry
        heat = (charge_dry * 0.85 + wet * 4.19) * (temperature - discharge) + 7200 * 1.5
        gone = max(0.0, (heat + water * 4.19 * (15 - discharge)) / (2418 - 2.4 * (discharge - 35)))
        held = wet + water + 0.1 * logged["bentonite"] + 0.25 * r.standard_normal() - gone
        w = 100 * held / (held + dry)
        c0, ca, cv, cf = luck.demand
        need = c0 + 0.35 + ca * x[CLAY] + cv * (x[VOLATILES] + x[CARBON]) + cf * x[FINES]
        compact = 42 + luck.slope * (w - need) - 0.1 * (discharge - 33)
        bond = luck.bond * x[CLAY]
        self._send(prepared, metal, core)
        course.at_us.append(at)
        course.truth.append(x[1:].copy())
        course.compactability.append(compact)
        course.kg.append(dict(batch.added_kg))
        self._tell(controller, course, batch)
        return {
            "compactability": float(np.clip(compact, 1, 99)),
            "moisture": w,
            "green_compression_strength": bond * (132.1 - compact) / 15.29 * 6.894757,
            "sand_temperature": discharge,
            "return_moisture": moisture,
            "active_clay": x[CLAY],
            "volatiles": x[VOLATILES],
            "loss_on_ignition": 0.055 * x[CLAY] + x[VOLATILES] + x[CARBON],
            "afs_clay": x[CLAY] + x[FINES] + 0.5 * (x[VOLATILES] + x[CARBON]),
        }

    def _send(self, prepared: np.ndarray, metal: float, core: float) -> None:
        luck = self.luck
        s, before = prepared.copy(), prepared.sum()
        ba = 0.95 * luck.clay_wear / metal * s[CLAY]
        bv = 0.95 * luck.carbon_wear / metal * s[VOLATILES]
        bk = 0.95 * luck.carbon_wear / metal * s[CARBON]
        s += np.array([0.38 * ba, -ba, -bv, 0.2 * bv - bk, 0.57 * ba + 0.15 * bk])
        s *= 1.0 - np.array([0.001, 0.004, 0.004, 0.006, luck.dust_fines])
        s[GRAIN] += luck.retention * core / metal * before
        self.in_kg += luck.retention * core / metal * before
        self.out_kg += before + luck.retention * core / metal * before - s.sum()
        self.line.append(s)
        back = self.line.popleft()
        room = luck.bunker_kg - sum(cell.sum() for cell in self.bunker)
        kept = back * min(1.0, room / back.sum())
        self.out_kg += back.sum() - kept.sum()
        flow = kept.sum()
        for place in range(luck.cells - 1, 0, -1):
            passing = self.bunker[place - 1] * (flow / self.bunker[place - 1].sum())
            self.bunker[place - 1] = self.bunker[place - 1] - passing
            self.bunker[place] = self.bunker[place] + passing
        self.bunker[0] = self.bunker[0] + kept
