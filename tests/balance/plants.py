"""Plants of an invented foundry as inputs of the balance, and the batch balance written out by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sandlab.balance import (
    Addition,
    Advice,
    AdviceInputs,
    Feeder,
    Loop,
    Material,
    Muller,
    Reading,
    Target,
    TemperTest,
)

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


def readings(*values: float, every_min: float = 60.0) -> tuple[Reading, ...]:
    """Results at equal distances, the last of them one distance ago."""
    return tuple(Reading(value, every_min * (len(values) - place)) for place, value in enumerate(values))


def temper(
    *values: float, water_kg: float | None = 30.0, moisture: float | None = 3.3
) -> tuple[TemperTest, ...]:
    """Hourly compactability results with the water and moisture of their batches."""
    return tuple(
        TemperTest(60.0 * (len(values) - place), value, moisture, water_kg)
        for place, value in enumerate(values)
    )


def plant(**changes: Any) -> AdviceInputs:
    """An ordinary line in steady state on target, well tested, with feeders that never bind."""
    inputs = AdviceInputs(
        feeders=(feeder(BENTONITE, 12.0), feeder(COAL, 9.0), feeder(NEW_SAND, 20.0), feeder(WATER, 30.0)),
        targets=(
            Target("compactability", 42.0, 4.0),
            Target("active_clay", 8.0, 0.6),
            Target("volatiles", 1.0, 0.3),
        ),
        muller=Muller(1500.0, 2.0, 0.3, 22.0, 2.2, 38.0),
        loop=LOOP,
        tests={
            "active_clay": readings(*[8.0] * 6, every_min=240.0),
            "volatiles": readings(1.0, 1.0, 1.0, every_min=1440.0),
            "return_moisture": readings(2.0),
            "return_temperature": readings(38.0),
        },
        temper_tests=temper(*[42.0] * 6),
        usual={"fixed_carbon": 1.8, "inert_fines": 4.0},
    )
    return replace(inputs, **changes)


def kg(advice: Advice, name: str) -> float:
    """The recommended kg of one feeder."""
    return addition(advice, name).kg


def addition(advice: Advice, name: str) -> Addition:
    """The addition of one feeder."""
    return next(one for one in advice.additions if one.feeder == name)


def with_tests(inputs: AdviceInputs, changes: Mapping[str, tuple[Reading, ...]]) -> AdviceInputs:
    """The same plant with other test results."""
    return replace(inputs, tests={**inputs.tests, **changes})
