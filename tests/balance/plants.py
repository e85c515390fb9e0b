"""Materials, loop and feeders of an invented foundry, and a plant made of them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from sandlab.balance import Feeder, Loop, Material, Muller, PlantModel, Target

WATER = Material("water", "water", 100.0, temperature=15.0)
BENTONITE = Material("bentonite", "clay", 10.0, {"active_clay": 100.0}, cost_per_t=260.0)
COAL_ASSAY = {"volatiles": 33.0, "fixed_carbon": 53.0, "inert_fines": 14.0}
COAL = Material("coal", "carbon", 3.0, COAL_ASSAY, cost_per_t=340.0)
NEW_SAND = Material("new_sand", "new_sand", 0.2, {"inert_fines": 0.3}, cost_per_t=45.0)
PREMIX_ASSAY = {"active_clay": 70.0, "volatiles": 9.0, "fixed_carbon": 15.0, "inert_fines": 4.0}
PREMIX = Material("premix", "premix", 8.0, PREMIX_ASSAY, cost_per_t=290.0)

LOOP = Loop(
    sand_to_metal=6.0,
    core_sand_t_per_t=0.1,
    core_retention=0.6,
    spill=0.05,
    clay_wear_factor=0.33,
    carbon_wear_factor=1.0,
    bound_water=0.055,
    burnt_clay_to_fines=0.6,
    coke_yield=0.2,
    carbon_ash=0.1,
    dust_active_clay=0.004,
    dust_volatiles=0.004,
    dust_fixed_carbon=0.006,
    dust_inert_fines=0.05,
    dust_grain=0.001,
)


def feeder(material: Material, present_kg: float, **changes: Any) -> Feeder:
    """A feeder with limits so wide that none binds, unless told otherwise."""
    wide = Feeder(material.id, material, 0.0, 200.0, 0.5, 200.0, present_kg)
    return replace(wide, **changes)


def plant(**changes: Any) -> PlantModel:
    """An ordinary line with feeders that never bind."""
    model = PlantModel(
        feeders=(feeder(BENTONITE, 12.0), feeder(COAL, 9.0), feeder(NEW_SAND, 20.0), feeder(WATER, 30.0)),
        targets=(
            Target("compactability", 42.0, 4.0),
            Target("active_clay", 8.0, 0.6),
            Target("volatiles", 1.0, 0.3),
        ),
        muller=Muller(1500.0, 2.0, 0.3, 22.0, 2.2, 38.0),
        loop=LOOP,
        stock_t=120.0,
        batches_per_h=20.0,
        usual={"fixed_carbon": 1.8, "inert_fines": 4.0},
    )
    return replace(model, **changes)
