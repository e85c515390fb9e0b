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
    CORE_MIX,
    COUNT,
    DRY,
    FIXED_CARBON,
    GRAIN,
    INERT_FINES,
    LINE_BATCHES,
    NEW_CLAY,
    USUAL_SAND,
    VOLATILES,
    WARMTH,
    WATER,
    Parameters,
)

Floats = npt.NDArray[np.float64]

# kJ/kg of evaporated water at working temperature; kJ/kg K of moist sand and of water.
LATENT, SAND_HEAT, WATER_HEAT = 2410.0, 1.0, 4.19
HOUSE_TEMPERATURE = 18.0
# What burns at pouring, in this order.
BURNING = slice(NEW_CLAY, INERT_FINES)


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
    """What a batch meets on its way, per plant.

    `poured` is the share of its sand that sees metal, over sand:metal; `core` is kg core sand that joins 1 kg
    dry sand; the cooler leaves `cooled_water` kg per dry kg at `cooled_temperature`.
    """

    ambient: Floats
    poured: Floats
    core: Floats
    cooled_water: Floats
    cooled_temperature: Floats

    @classmethod
    def of(
        cls,
        own: dict[str, Floats],
        ambient: Floats,
        sand_to_metal: Floats,
        core_share: Floats,
        cooled_moisture: Floats,
        return_extra: Floats,
    ) -> Surroundings:
        """From what the drivers say: sand:metal and core share of the job, moisture and K after cooling."""
        rise = own["return_rise"] + own["pour_heat"] * (1.0 / sand_to_metal - 0.16)
        return cls(
            ambient=ambient,
            poured=(1.0 - own["spill"]) / sand_to_metal,
            core=own["core_retention"] * core_share / sand_to_metal,
            cooled_water=cooled_moisture / (100.0 - cooled_moisture),
            cooled_temperature=ambient + rise + return_extra,
        )

    def at(self, batch: int) -> Surroundings:
        """The row of one batch, when the fields are series."""
        return Surroundings(
            self.ambient[batch],
            self.poured[batch],
            self.core[batch],
            self.cooled_water[batch],
            self.cooled_temperature[batch],
        )


@dataclass(slots=True)
class Circuit:
    """The sand of several plants: bunker cells in series, moulding line (first in, first out), ledger."""

    cells: Floats
    line: Floats
    ledger: Ledger
    own: dict[str, Floats]
    wear: Floats
    kept: Floats
    place: int = 0
    drawn_dry: Floats = field(default_factory=lambda: np.zeros(0))

    @classmethod
    def filled(cls, plants: Sequence[Parameters]) -> Circuit:
        """Circuits filled with sand near its usual composition."""
        count = len(plants)
        own = {name: np.array([getattr(plant, name) for plant in plants]) for name in Parameters.__slots__}
        unit = np.repeat(np.array(USUAL_SAND)[:, None], count, axis=1)
        cells = np.repeat((unit * own["bunker_kg"] / CELLS)[None], CELLS, axis=0)
        line = np.repeat((unit * own["charge_kg"])[None], LINE_BATCHES, axis=0)
        wear = np.stack([own["clay_wear"], own["clay_wear"], own["carbon_wear"], own["carbon_wear"]])
        names = ("grain", "grain", "clay", "clay", "combustibles", "combustibles", "fines")
        kept = np.stack([(1.0 - own["carry_out"]) * (1.0 - own[f"dust_{name}"]) for name in names])
        return cls(cells, line, Ledger.empty(count), own, wear, kept)

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
        batch: Floats = last * (self.own["charge_kg"] / np.add.reduce(last[:WARMTH]))
        last -= batch
        self.drawn_dry = np.add.reduce(batch[DRY])
        return batch

    def mull(self, batch: Floats, dose: Dose, ambient: Floats) -> Floats:
        """The prepared sand of a charged batch with its additions, at discharge."""
        own, ledger = self.own, self.ledger
        added = np.zeros((COUNT, batch.shape[1]))
        bentonite = dose.bentonite * (1.0 - own["bentonite_moisture"])
        carbon = dose.carbon * (1.0 - own["carbon_moisture"])
        sand = own["new_sand_kg"] * (1.0 - own["new_sand_moisture"])
        added[NEW_CLAY] = bentonite * dose.clay_assay
        added[VOLATILES] = carbon * own["coal_volatiles"]
        added[FIXED_CARBON] = carbon * own["coal_fixed"]
        added[GRAIN] = sand * (1.0 - own["new_sand_fines"])
        dry = bentonite + carbon + sand
        added[INERT_FINES] = dry - np.add.reduce(added[:INERT_FINES])
        added[WATER] = dose.water + (dose.bentonite + dose.carbon + own["new_sand_kg"] - dry)
        ledger.dry_in += dry
        ledger.water_in += added[WATER]
        prepared = batch + added
        developed = own["developed_per_mulling"] * prepared[NEW_CLAY]
        prepared[NEW_CLAY] -= developed
        prepared[CLAY] += developed
        self._heat(prepared, self.drawn_dry + dry, dose.water, ambient)
        return prepared

    def _heat(self, batch: Floats, dry: Floats, water: Floats, ambient: Floats) -> None:
        """Mulling work in, heat out: part of the cooling goes as vapour."""
        own = self.own
        incoming = batch[WARMTH] / self.drawn_dry
        taken = water * WATER_HEAT * (incoming - HOUSE_TEMPERATURE) / (dry * SAND_HEAT)
        before = incoming - taken + own["muller_rise"]
        cooling = own["muller_cooling"] * np.maximum(0.0, before - ambient)
        vapour = own["evaporating_share"] * cooling * dry * SAND_HEAT / LATENT
        batch[WARMTH] = dry * (before - cooling)
        batch[WATER] -= vapour
        self.ledger.water_out += vapour

    def pour(self, prepared: Floats, around: Surroundings) -> Floats:
        """The same sand after mould, pouring, shakeout, dust extraction, breaking cores and cooler."""
        own, ledger = self.own, self.ledger
        before = np.add.reduce(prepared[DRY])
        sand = prepared.copy()
        burnt = sand[BURNING] * (self.wear * around.poured)
        sand[BURNING] -= burnt
        dead = (burnt[0] + burnt[1]) * (1.0 - own["bound_water"])
        fine = own["burnt_to_fines"] * dead
        sand[FIXED_CARBON] += own["coke_yield"] * burnt[2]
        sand[INERT_FINES] += fine + own["carbon_ash"] * burnt[3]
        sand[GRAIN] += dead - fine
        sand[DRY] *= self.kept
        ledger.dry_out += before - np.add.reduce(sand[DRY])
        core = around.core * before
        sand[DRY] += CORE_MIX * core
        ledger.dry_in += core
        dry = np.add.reduce(sand[DRY])
        water = dry * around.cooled_water
        ledger.water_out += sand[WATER] - water
        sand[WATER] = water
        sand[WARMTH] = dry * around.cooled_temperature
        return sand

    def store(self, prepared: Floats, around: Surroundings) -> None:
        """Puts the oldest mould of the line into the bunker, what is too much over the side, and moves on."""
        sand = self.line[self.place].copy()
        self.line[self.place] = self.pour(prepared, around)
        self.place = (self.place + 1) % LINE_BATCHES
        incoming = np.add.reduce(sand[DRY])
        kept = sand * np.minimum(1.0, self.drawn_dry / incoming)
        self.ledger.dry_out += incoming - np.add.reduce(kept[DRY])
        self.ledger.water_out += sand[WATER] - kept[WATER]
        upper = self.cells[:-1]
        passing = upper * (self.drawn_dry / np.add.reduce(upper[:, DRY], axis=1))[:, None]
        upper -= passing
        self.cells[1:] += passing
        self.cells[0] += kept
