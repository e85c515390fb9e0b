"""A simulated plant whose additions somebody else decides, batch by batch: the examiner of a controller.

Several controllers are examined side by side: the last axis is one controller each, all at the same plant
with the same luck. Sand leaves the muller as a parcel, goes first in first out through the moulding line, is
poured and cooled, passes the plug part of the bunker as a parcel, and is stirred into the hopper.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sandlab.plant.closed.luck import Lot, Luck, Run, draw_luck, stream
from sandlab.plant.closed.papers import Papers, Settled, papers_of, settle
from sandlab.plant.closed.ranges import Plant, draw
from sandlab.plant.closed.rounds import RETURN, Test, scale_of, tests_due
from sandlab.plant.closed.sand import Floats, additions, compactability, core_in, mull, passage, tested
from sandlab.plant.loop import Ledger
from sandlab.plant.parameters import (
    CLAY,
    DRY,
    FIXED_CARBON,
    INERT_FINES,
    NEW_CLAY,
    VOLATILES,
    WARMTH,
    WATER,
)

FEEDERS = ("water", "bentonite", "carbon", "new_sand")
TRUTHS = (
    "active_clay",
    "volatiles",
    "compactability",
    "fixed_carbon",
    "inert_fines",
    "moisture",
    "returned_clay",
    "returned_volatiles",
)


@dataclass(frozen=True, slots=True)
class Case:
    """One plant of one seed in one scenario: everything but the controller."""

    seed: int
    scenario: str
    days: int
    plant: Plant
    settled: Settled
    papers: Papers
    luck: Luck
    tests: dict[int, tuple[Test, ...]]


def draw_case(seed: int, scenario: str, days: int) -> Case:
    """The plant of one seed with its luck and its laboratory's rounds."""
    plant = draw(stream(seed, "plant"))
    luck = draw_luck(plant, seed, scenario, days)
    settled = settle(plant)
    papers = papers_of(plant, settled)
    return Case(seed, scenario, days, plant, settled, papers, luck, tests_due(plant, luck, seed))


class Line:
    """The plant of a case under so many controllers: `charge`, `make`, `results`, once for every batch."""

    def __init__(self, case: Case, controllers: int) -> None:
        plant, settled = case.plant, case.settled
        self.case, self.count, self.number = case, controllers, -1
        self._steps = np.array([case.papers.resolution[name] for name in FEEDERS])[:, None]
        self._most = np.array([case.papers.greatest[name] for name in FEEDERS])[:, None]
        self._ways = [passage(plant, run.sand_to_metal, run.core_share, run.factor) for run in case.luck.runs]
        self._cores = [core_in(plant, run.sand_to_metal, run.core_share) for run in case.luck.runs]
        parcel = np.repeat(settled.prepared, controllers, axis=1)
        returned = np.repeat(settled.charged, controllers, axis=1)
        self.delay = round(plant.line_batches)
        plug = max(1, round(plant.bunker_batches * plant.plug_share))
        self.moulds: list[Floats] = [parcel.copy() for _ in range(self.delay)]
        self.plug: list[Floats] = [returned.copy() for _ in range(plug)]
        self.hopper: Floats = returned * max(5.0, plant.bunker_batches - plug)
        self.ledger = Ledger.empty(controllers)
        self._level = np.asarray(sum(sand[DRY].sum(axis=0) for sand in (*self.plug, self.hopper)))
        self._nominal = self._level.copy()
        self.true = {name: np.zeros((controllers, case.luck.batches)) for name in TRUTHS}
        self.weighed = np.zeros((len(FEEDERS), controllers, case.luck.batches))
        self.metal_t = np.zeros((controllers, case.luck.batches))
        self.charged: Floats = returned
        self.prepared: Floats = parcel

    def stock(self) -> tuple[Floats, Floats]:
        """Dry sand and water in the system, kg per controller."""
        everything = (*self.moulds, *self.plug, self.hopper)
        dry = sum(sand[DRY].sum(axis=0) for sand in everything)
        return np.asarray(dry), np.asarray(sum(sand[WATER] for sand in everything))

    def lots(self) -> tuple[float, ...]:
        """Assay and moisture of the bentonite, volatiles and moisture of the coal, as fed now."""
        clay = _current(self.case.luck.clay_lots, self.number)
        coal = _current(self.case.luck.coal_lots, self.number)
        return clay.assay, clay.moisture, coal.assay, coal.moisture

    def charge(self) -> Floats:
        """Weighs the return sand of the next batch out of the hopper: masses, one column per controller."""
        self.number += 1
        luck, plant, hopper = self.case.luck, self.case.plant, self.hopper
        if luck.gap_h[self.number] > 0.0:
            self._rest(float(luck.gap_h[self.number]))
        kg = plant.charge_kg * luck.charge[self.number]
        batch: Floats = hopper * (kg / np.add.reduce(hopper[:WARMTH]))
        hopper -= batch
        self._level -= np.add.reduce(batch[DRY])
        self.charged = batch
        return batch

    def probes(self) -> tuple[Floats, Floats]:
        """Moisture (%) and temperature (C) of the charged sand as the belt probes show them."""
        moisture, temperature = _of_return(self.charged)
        luck, number = self.case.luck, self.number
        return moisture + luck.probe_moisture[number], temperature + luck.probe_temperature[number]

    def make(self, settings: Floats) -> Floats:
        """Mulls the charged batch with kg set, rows as in FEEDERS; returns kg as weighed."""
        luck, plant, number = self.case.luck, self.case.plant, self.number
        weighed: Floats = np.clip(np.rint(settings / self._steps) * self._steps, 0.0, self._most)
        weighed[1:] = np.maximum(
            0.0, weighed[1:] + np.where(weighed[1:] > 0.0, luck.weighing[number][:, None], 0.0)
        )
        water, bentonite, carbon, sand = (
            factor[number] * kg
            for factor, kg in zip(
                (luck.water, luck.bentonite, luck.carbon, luck.new_sand), weighed, strict=True
            )
        )
        added = additions(plant, bentonite, carbon, sand, water, self.lots())
        self.prepared, vapour = mull(plant, self.charged, added, water, float(luck.ambient[number]))
        self.ledger.dry_in += np.add.reduce(added[DRY])
        self.ledger.water_in += added[WATER]
        self.ledger.water_out += vapour
        self.weighed[:, :, number] = weighed
        self._write_down()
        self._pass_on()
        return weighed

    def results(self) -> list[tuple[Test, Floats]]:
        """The tests of the batch just made and what they will show, one value per controller."""
        due = self.case.tests.get(self.number, ())
        if not due:
            return []
        plant, number = self.case.plant, self.number
        compact = self._compactability()
        values = tested(plant, self.prepared, compact, float(self.case.luck.bond[number]))
        values.update(zip(RETURN, _of_return(self.charged), strict=True))
        return [(test, values[test.property] * test.gain + test.offset) for test in due]

    def run(self) -> Run:
        """The lot of castings that the present batch is for."""
        return self.case.luck.runs[int(self.case.luck.run[self.number])]

    def _compactability(self) -> Floats:
        demand = self.case.settled.demand + float(self.case.luck.demand[self.number])
        return compactability(self.case.plant, self.prepared, demand)

    def _write_down(self) -> None:
        """The truth on the laboratory's scale."""
        plant, number, true = self.case.plant, self.number, self.true
        dry = np.add.reduce(self.prepared[DRY])
        clay, volatile = (scale_of(plant, name)[0] for name in ("active_clay", "volatiles"))
        true["active_clay"][:, number] = 100.0 * clay * (self.prepared[CLAY] + self.prepared[NEW_CLAY]) / dry
        true["volatiles"][:, number] = 100.0 * volatile * self.prepared[VOLATILES] / dry
        true["compactability"][:, number] = self._compactability() + plant.compactability_offset
        true["fixed_carbon"][:, number] = 100.0 * self.prepared[FIXED_CARBON] / dry
        true["inert_fines"][:, number] = 100.0 * self.prepared[INERT_FINES] / dry
        true["moisture"][:, number] = 100.0 * self.prepared[WATER] / (dry + self.prepared[WATER])
        before = np.add.reduce(self.charged[DRY])
        returned = self.charged[CLAY] + self.charged[NEW_CLAY]
        true["returned_clay"][:, number] = 100.0 * clay * returned / before
        true["returned_volatiles"][:, number] = 100.0 * volatile * self.charged[VOLATILES] / before
        self.metal_t[:, number] = dry * (1.0 - plant.spill) / self.run().sand_to_metal / 1000.0

    def _pass_on(self) -> None:
        """The oldest mould is poured, cooled and put into the bunker; what is too much goes overboard."""
        luck, number, ledger = self.case.luck, self.number, self.ledger
        run = int(luck.run[max(0, number - self.delay)])
        self.moulds.append(self.prepared)
        sand = self.moulds.pop(0)
        before = np.add.reduce(sand[DRY])
        poured = np.empty_like(sand)
        poured[DRY] = self._ways[run] @ sand[DRY]
        dry = np.add.reduce(poured[DRY])
        core = self._cores[run] * before
        ledger.dry_in += core
        moisture = luck.cooled_moisture[number]
        poured[WATER] = dry * (moisture / (100.0 - moisture))
        poured[WARMTH] = dry * luck.cooled_temperature[number]
        kept = poured * np.clip((self._nominal - self._level) / dry, 0.0, 1.0)
        kept_dry = np.add.reduce(kept[DRY])
        ledger.dry_out += before + core - kept_dry
        ledger.water_out += sand[WATER] - kept[WATER]
        self._level += kept_dry
        self.plug.append(kept)
        self.hopper += self.plug.pop(0)

    def _rest(self, hours: float) -> None:
        """The sand stands: it cools slowly towards the hall and dries a little."""
        plant, ambient = self.case.plant, float(self.case.luck.ambient[self.number])
        warm = float(np.exp(-hours / plant.standing_cooling))
        lost = plant.standing_loss * min(1.0, hours / 48.0)
        for sand in (*self.plug, self.hopper):
            dry = np.add.reduce(sand[DRY])
            sand[WARMTH] = warm * sand[WARMTH] + (1.0 - warm) * ambient * dry
            self.ledger.water_out += lost * sand[WATER]
            sand[WATER] *= 1.0 - lost


def _of_return(sand: Floats) -> tuple[Floats, Floats]:
    """Moisture, % of moist, and temperature, C."""
    return 100.0 * sand[WATER] / np.add.reduce(sand[:WARMTH]), sand[WARMTH] / np.add.reduce(sand[DRY])


def _current(lots: Sequence[Lot], number: int) -> Lot:
    return next(lot for lot in reversed(lots) if lot.first <= max(0, number))
