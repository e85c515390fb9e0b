"""The sand on its way round: charge, mull, pour, store. Several plants are stepped side by side.

State is mass: rows are the components of `parameters` (kg; the last row kg C), the last axis is one plant
each. Whatever enters or leaves is written into the ledger, so that sand in = sand out + stock change can be
checked. Burn-out by wear factor is the published relation of the foundry lexicon; tanks in series for storage
with partly plug flow are common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from sandlab.plant.parameters import (
    CELLS,
    CLAY,
    CORE_GRAIN,
    DRY,
    FIXED_CARBON,
    GRAIN,
    INERT_FINES,
    LINE_BATCHES,
    NEW_CLAY,
    VOLATILES,
    WARMTH,
    WATER,
    Parameters,
)

Floats = npt.NDArray[np.float64]

# kJ/kg of evaporated water at working temperature; kJ/kg K of moist sand and of water.
LATENT, SAND_HEAT, WATER_HEAT = 2410.0, 1.0, 4.19
HOUSE_TEMPERATURE = 18.0


@dataclass(slots=True)
class Ledger:
    """Kilograms that crossed the border of the system, per plant; dry sand and water apart."""

    dry_in: Floats
    dry_out: Floats
    water_in: Floats
    water_out: Floats

    @classmethod
    def empty(cls, plants: int) -> Ledger:
        """A ledger without entries."""
        return cls(*(np.zeros(plants) for _ in range(4)))


@dataclass(slots=True)
class Dose:
    """What truly enters one batch, kg as delivered; `clay_assay` is the active share of dry bentonite."""

    water: Floats
    bentonite: Floats
    carbon: Floats
    clay_assay: Floats


@dataclass(slots=True)
class Surroundings:
    """What one batch meets on its way, per plant."""

    ambient: Floats
    sand_to_metal: Floats
    core_share: Floats
    cooled_moisture: Floats
    return_extra: Floats


@dataclass(slots=True)
class Circuit:
    """The sand of several plants: bunker cells in series, moulding line (first in, first out), ledger."""

    cells: Floats
    line: Floats
    ledger: Ledger
    figures: dict[str, Floats]
    place: int = 0
    drawn_dry: Floats = field(default_factory=lambda: np.zeros(0))

    @classmethod
    def filled(cls, plants: Sequence[Parameters]) -> Circuit:
        """Circuits filled with sand near its usual composition."""
        count = len(plants)
        figures = {
            name: np.array([getattr(plant, name) for plant in plants]) for name in Parameters.__slots__
        }
        share = np.array([0.50, 0.33, 0.004, 0.076, 0.014, 0.02, 0.0, 0.0215, 36.0])
        share[INERT_FINES] = 1.0 - share[:INERT_FINES].sum()
        unit = np.repeat(share[:, None], count, axis=1)
        cells = np.repeat((unit * figures["bunker_kg"] / CELLS)[None], CELLS, axis=0)
        line = np.repeat((unit * figures["charge_kg"])[None], LINE_BATCHES, axis=0)
        return cls(cells, line, Ledger.empty(count), figures)

    def stock(self) -> tuple[Floats, Floats]:
        """Dry sand and water in bunker and line, kg per plant."""
        return (
            self.cells[:, DRY].sum(axis=(0, 1)) + self.line[:, DRY].sum(axis=(0, 1)),
            self.cells[:, WATER].sum(axis=0) + self.line[:, WATER].sum(axis=0),
        )

    def rest(self, hours: Floats, ambient: Floats) -> None:
        """The sand stands: it cools slowly towards the hall and dries a little."""
        warm = np.exp(-hours / 300.0)
        dry = self.cells[:, DRY].sum(axis=1)
        self.cells[:, WARMTH] = warm * self.cells[:, WARMTH] + (1.0 - warm) * ambient * dry
        dried = self.cells[:, WATER] * (0.03 * (1.0 - np.exp(-hours / 48.0)))
        self.cells[:, WATER] -= dried
        self.ledger.water_out += dried.sum(axis=0)

    def charge(self) -> Floats:
        """Return sand for one batch, by moist weight, out of the last cell."""
        last = self.cells[-1]
        moist = last[:WARMTH].sum(axis=0)
        batch: Floats = last * (self.figures["charge_kg"] / moist)
        self.cells[-1] = last - batch
        self.drawn_dry = batch[DRY].sum(axis=0)
        return batch

    def mull(self, batch: Floats, dose: Dose, ambient: Floats) -> Floats:
        """The prepared sand of a charged batch with its additions, at discharge."""
        own, ledger = self.figures, self.ledger
        bentonite = dose.bentonite * (1.0 - own["bentonite_moisture"])
        carbon = dose.carbon * (1.0 - own["carbon_moisture"])
        sand = own["new_sand_kg"] * (1.0 - own["new_sand_moisture"])
        water = (
            dose.water
            + (dose.bentonite - bentonite)
            + (dose.carbon - carbon)
            + own["new_sand_kg"] * own["new_sand_moisture"]
        )
        batch = batch.copy()
        batch[NEW_CLAY] += bentonite * dose.clay_assay
        batch[VOLATILES] += carbon * own["coal_volatiles"]
        batch[FIXED_CARBON] += carbon * own["coal_fixed"]
        batch[GRAIN] += sand * (1.0 - own["new_sand_fines"])
        batch[INERT_FINES] += (
            bentonite * (1.0 - dose.clay_assay)
            + carbon * (1.0 - own["coal_volatiles"] - own["coal_fixed"])
            + sand * own["new_sand_fines"]
        )
        batch[WATER] += water
        ledger.dry_in += bentonite + carbon + sand
        ledger.water_in += water
        developed = own["developed_per_mulling"] * batch[NEW_CLAY]
        batch[NEW_CLAY] -= developed
        batch[CLAY] += developed
        self._heat(batch, dose.water, ambient)
        return batch

    def _heat(self, batch: Floats, water: Floats, ambient: Floats) -> None:
        """Mulling work in, heat out: part of the cooling goes as vapour."""
        own = self.figures
        dry = batch[DRY].sum(axis=0)
        incoming = batch[WARMTH] / self.drawn_dry
        taken = water * WATER_HEAT * (incoming - HOUSE_TEMPERATURE) / (dry * SAND_HEAT)
        before = incoming - taken + own["muller_rise"]
        cooling = own["muller_cooling"] * np.maximum(0.0, before - ambient)
        vapour = own["evaporating_share"] * cooling * dry * SAND_HEAT / LATENT
        batch[WARMTH] = dry * (before - cooling)
        batch[WATER] -= vapour
        self.ledger.water_out += vapour

    def pour(self, prepared: Floats, around: Surroundings) -> Floats:
        """The same sand after mould, pouring, shakeout, dust extraction and cooler."""
        own = self.figures
        before = prepared[DRY].sum(axis=0)
        sand = prepared.copy()
        poured = (1.0 - own["spill"]) / around.sand_to_metal
        clay_share = own["clay_wear"] * poured
        carbon_share = own["carbon_wear"] * poured
        new_burnt = sand[NEW_CLAY] * clay_share
        clay_burnt = sand[CLAY] * clay_share
        dead = (new_burnt + clay_burnt) * (1.0 - own["bound_water"])
        volatiles_burnt = sand[VOLATILES] * carbon_share
        carbon_burnt = sand[FIXED_CARBON] * carbon_share
        sand[NEW_CLAY] -= new_burnt
        sand[CLAY] -= clay_burnt
        sand[VOLATILES] -= volatiles_burnt
        sand[FIXED_CARBON] += own["coke_yield"] * volatiles_burnt - carbon_burnt
        sand[INERT_FINES] += own["burnt_to_fines"] * dead + own["carbon_ash"] * carbon_burnt
        sand[GRAIN] += (1.0 - own["burnt_to_fines"]) * dead
        sand[DRY] *= 1.0 - own["carry_out"]
        sand[[GRAIN, CORE_GRAIN]] *= 1.0 - own["dust_grain"]
        sand[[NEW_CLAY, CLAY]] *= 1.0 - own["dust_clay"]
        sand[[VOLATILES, FIXED_CARBON]] *= 1.0 - own["dust_combustibles"]
        sand[INERT_FINES] *= 1.0 - own["dust_fines"]
        self.ledger.dry_out += before - sand[DRY].sum(axis=0)
        self._add_cores(sand, before, around)
        self._cool(sand, around)
        return sand

    def _add_cores(self, sand: Floats, poured_dry: Floats, around: Surroundings) -> None:
        """Core sand that breaks up at shakeout joins the return sand with what is left of its binder."""
        core = self.figures["core_retention"] * around.core_share / around.sand_to_metal * poured_dry
        sand[CORE_GRAIN] += 0.985 * core
        sand[VOLATILES] += 0.006 * core
        sand[FIXED_CARBON] += 0.004 * core
        sand[INERT_FINES] += 0.005 * core
        self.ledger.dry_in += core

    def _cool(self, sand: Floats, around: Surroundings) -> None:
        """Shakeout heat drives water off; the cooler sprays some back and holds a moisture."""
        own = self.figures
        dry = sand[DRY].sum(axis=0)
        wanted = around.cooled_moisture / 100.0
        water = dry * wanted / (1.0 - wanted)
        self.ledger.water_out += sand[WATER] - water
        sand[WATER] = water
        rise = own["return_rise"] + own["pour_heat"] * (1.0 / around.sand_to_metal - 0.16)
        sand[WARMTH] = dry * (around.ambient + rise + around.return_extra)

    def store(self, prepared: Floats, around: Surroundings) -> None:
        """Pours the oldest mould of the line into the bunker and puts the prepared sand on the line."""
        sand = self.line[self.place].copy()
        self.line[self.place] = self.pour(prepared, around)
        self.place = (self.place + 1) % LINE_BATCHES
        incoming = sand[DRY].sum(axis=0)
        kept = sand * np.minimum(1.0, self.drawn_dry / incoming)
        self.ledger.dry_out += incoming - kept[DRY].sum(axis=0)
        self.ledger.water_out += sand[WATER] - kept[WATER]
        upper = self.cells[:-1]
        passing = upper * (self.drawn_dry / upper[:, DRY].sum(axis=1))[:, None]
        self.cells[:-1] -= passing
        self.cells[1:] += passing
        self.cells[0] += kept
