"""The plant's own figures: sand system, jobs, materials, laboratory. Invented, within published ranges.

Ranges: wear factors, assays, sand:metal and batch recipe from the foundry lexicon and trade notes; dust
shares, cell count and noise from common practice. None is shared with the recommender: the plant is its
examiner.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

# Dry components carried through the loop, kg; then water, kg, and dry mass times temperature, kg C.
GRAIN, CORE_GRAIN, NEW_CLAY, CLAY, VOLATILES, FIXED_CARBON, INERT_FINES, WATER, WARMTH = range(9)
DRY = slice(GRAIN, WATER)
COUNT = 9

# kg per dry kg at the very start, with 2.15 % water and 36 C; kg per kg of broken core sand.
USUAL_SAND = (0.50, 0.33, 0.004, 0.076, 0.014, 0.02, 0.056, 0.0215, 36.0)
CORE_MIX = np.array([[0.0], [0.985], [0.0], [0.0], [0.006], [0.004], [0.005]])

CELLS = 4
LINE_BATCHES = 25

# C in the hall; % moisture that the cooler holds.
USUAL_AMBIENT, USUAL_COOLED_MOISTURE = 21.0, 2.1

CLAY_TARGET = 8.0
VOLATILES_TARGET = 1.4
COMPACTABILITY_TARGET = 42.0


@dataclass(frozen=True, slots=True)
class Job:
    """A pattern family: kg dry sand per kg metal, kg core sand per kg metal, how often it is run."""

    name: str
    sand_to_metal: float
    core_share: float
    weight: float


JOBS = (
    Job("manhole frame 600", 5.3, 0.05, 0.26),
    Job("manhole cover 600", 6.2, 0.02, 0.24),
    Job("gully grate 450", 7.2, 0.03, 0.20),
    Job("surface box", 6.1, 0.10, 0.16),
    Job("channel grating", 6.5, 0.04, 0.14),
)
CORE_JOB = Job("hydrant pedestal", 6.0, 0.34, 0.0)


@dataclass(frozen=True, slots=True)
class Parameters:
    """One plant: masses in kg, shares as fractions, temperatures in C."""

    charge_kg: float = 1500.0
    bunker_kg: float = 80_000.0
    spill: float = 0.05
    clay_wear: float = 0.33
    carbon_wear: float = 0.78
    bound_water: float = 0.05
    burnt_to_fines: float = 0.6
    coke_yield: float = 0.2
    carbon_ash: float = 0.15
    carry_out: float = 0.002
    dust_grain: float = 0.001
    dust_clay: float = 0.004
    dust_combustibles: float = 0.006
    dust_fines: float = 0.08
    core_retention: float = 0.6
    developed_per_mulling: float = 0.35
    muller_rise: float = 5.0
    muller_cooling: float = 0.3
    evaporating_share: float = 0.7
    return_rise: float = 13.0
    pour_heat: float = 42.0
    temper_level: float = 0.78
    bentonite_moisture: float = 0.10
    carbon_moisture: float = 0.03
    coal_volatiles: float = 0.34
    coal_fixed: float = 0.50
    new_sand_kg: float = 20.0
    new_sand_moisture: float = 0.002
    new_sand_fines: float = 0.003


def drawn(random: np.random.Generator) -> Parameters:
    """The parameters of one seed: the figures above, each a little off."""

    def about(value: float, share: float) -> float:
        return float(value * (1.0 + share * random.uniform(-1.0, 1.0)))

    usual = Parameters()
    return replace(
        usual,
        clay_wear=about(usual.clay_wear, 0.06),
        carbon_wear=about(usual.carbon_wear, 0.06),
        dust_fines=about(usual.dust_fines, 0.10),
        core_retention=about(usual.core_retention, 0.10),
        developed_per_mulling=about(usual.developed_per_mulling, 0.10),
        pour_heat=about(usual.pour_heat, 0.05),
        temper_level=about(usual.temper_level, 0.05),
        coal_volatiles=about(usual.coal_volatiles, 0.03),
    )
