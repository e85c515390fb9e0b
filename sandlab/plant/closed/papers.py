"""What is written down about a plant before anyone has watched it: nameplates, recipe, certificates.

The recipe comes from a plant run without luck until its sand stays on target, off by what people believe.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sandlab.plant.closed.ranges import Plant
from sandlab.plant.closed.sand import Floats, absorbing, additions, heine, mull, passage
from sandlab.plant.parameters import (
    CLAY,
    COUNT,
    DRY,
    FIXED_CARBON,
    INERT_FINES,
    NEW_CLAY,
    USUAL_SAND,
    VOLATILES,
    WARMTH,
    WATER,
)

SETTLING_CYCLES = 500


@dataclass(frozen=True, slots=True)
class Settled:
    """A plant in its steady state on target: one prepared and one charged batch (kg), the right doses."""

    prepared: Floats
    charged: Floats
    water: float
    bentonite: float
    carbon: float
    new_sand: float
    demand: float


@dataclass(frozen=True, slots=True)
class Papers:
    """What people know; kg per batch, shares in %.

    usual: prepared sand on target, on the laboratory's scale
    """

    charge_kg: float
    stock_kg: float
    sand_to_metal: float
    core_share: float
    recipe: dict[str, float]
    greatest: dict[str, float]
    resolution: dict[str, float]
    return_moisture: float
    return_temperature: float
    ambient: float
    usual: dict[str, float]


def settle(plant: Plant) -> Settled:
    """The steady state on target without luck."""
    lots = (plant.bentonite_assay, plant.bentonite_moisture, plant.coal_volatiles, plant.coal_moisture)
    prepared = np.array(USUAL_SAND)[:, None] * plant.charge_kg
    share = passage(plant, plant.sand_to_metal, plant.core_share, 1.0)
    moist = plant.cooled_moisture / (100.0 - plant.cooled_moisture)
    clay_wanted = plant.clay_target / plant.clay_calibration / 100.0
    volatiles_wanted = plant.volatiles_target / plant.volatiles_calibration / 100.0
    moisture_wanted = heine(plant.clay_target, plant.compactability_target) + plant.demand_offset
    ones = np.ones(1)
    clay, coal, water = 0.008 * plant.charge_kg, 0.006 * plant.charge_kg, 0.02 * plant.charge_kg
    charged = prepared
    for _ in range(SETTLING_CYCLES):
        charged = np.zeros((COUNT, 1))
        charged[DRY] = share @ prepared[DRY]
        dry = charged[DRY].sum()
        charged[WATER], charged[WARMTH] = moist * dry, (plant.ambient + plant.return_rise) * dry
        charged *= plant.charge_kg / charged[:WARMTH].sum()
        added = additions(plant, clay * ones, coal * ones, _new_sand(plant) * ones, water * ones, lots)
        prepared, _ = mull(plant, charged, added, water * ones, plant.ambient)
        dry, moisture = prepared[DRY].sum(), 100.0 * prepared[WATER].sum() / prepared[:WARMTH].sum()
        clay += 0.5 * float(clay_wanted * dry - prepared[CLAY].sum() - prepared[NEW_CLAY].sum())
        coal += 0.5 * float(volatiles_wanted * dry - prepared[VOLATILES].sum()) / plant.coal_volatiles
        water += 0.8 * (moisture_wanted - moisture) / 100.0 * dry
    demand = moisture_wanted - float(absorbing(plant, prepared)[0])
    return Settled(prepared, charged, water, clay, coal, _new_sand(plant), demand)


def _new_sand(plant: Plant) -> float:
    return plant.new_sand * plant.charge_kg


def papers_of(plant: Plant, settled: Settled) -> Papers:
    """What people know of a settled plant."""
    charge = plant.charge_kg
    step = plant.feeder_resolution / 100.0 * charge
    resolution = {"bentonite": step, "carbon": step, "new_sand": step}
    resolution["water"] = plant.water_resolution / 100.0 * charge
    right = {
        "bentonite": settled.bentonite * plant.recipe_clay,
        "carbon": settled.carbon * plant.recipe_carbon,
        "new_sand": settled.new_sand,
        "water": settled.water,
    }
    recipe = {name: step_to(kg, resolution[name]) for name, kg in right.items()}
    share = 100.0 * settled.prepared[:, 0] / settled.prepared[DRY, 0].sum()
    charged = settled.charged[:, 0]
    return Papers(
        charge_kg=charge,
        stock_kg=float(plant.known_stock * charged[DRY].sum() * (plant.line_batches + plant.bunker_batches)),
        sand_to_metal=plant.sand_to_metal * plant.known_metal,
        core_share=plant.core_share,
        recipe=recipe,
        greatest={name: 3.0 * kg + resolution[name] for name, kg in recipe.items()},
        resolution=resolution,
        return_moisture=float(100.0 * charged[WATER] / charged[:WARMTH].sum()),
        return_temperature=float(charged[WARMTH] / charged[DRY].sum()),
        ambient=plant.ambient,
        usual={
            "active_clay": plant.clay_target,
            "volatiles": plant.volatiles_target,
            "fixed_carbon": plant.known_carbon * float(share[FIXED_CARBON]),
            "inert_fines": plant.known_fines * float(share[INERT_FINES]),
        },
    )


def step_to(kg: float, step: float) -> float:
    """The nearest amount that a feeder can be set to."""
    return round(kg / step) * step
