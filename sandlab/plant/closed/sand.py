"""What one batch goes through, as masses: mulled, poured, cooled; and the properties that follow.

State: rows are the components of `parameters` (kg; the last row kg C), the last axis is one controller each.
Burn-out by wear factor: foundry lexicon. Level of temper water and working bond: ICRI report 610.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sandlab.plant.closed.ranges import Plant
from sandlab.plant.parameters import (
    CLAY,
    CORE_GRAIN,
    COUNT,
    DRY,
    FIXED_CARBON,
    GRAIN,
    INERT_FINES,
    NEW_CLAY,
    VOLATILES,
    WARMTH,
    WATER,
)

Floats = npt.NDArray[np.float64]

WATER_HEAT = 4.19
KPA_PER_PSI = 6.894757
GREATEST_BURN = 0.95


def passage(plant: Plant, sand_to_metal: float, core_share: float, factor: float) -> Floats:
    """What 1 kg of each dry component becomes between mould and cooler, cores included: shape (7, 7)."""
    poured = (1.0 - plant.spill) * factor / sand_to_metal
    clay, volatile, coke = (
        min(GREATEST_BURN, wear * poured)
        for wear in (plant.clay_wear, plant.carbon_wear, plant.carbon_wear * plant.coke_wear)
    )
    share = np.eye(WATER)
    for burning in (NEW_CLAY, CLAY):
        dead = clay * (1.0 - plant.bound_water)
        share[burning, burning] -= clay
        share[INERT_FINES, burning] += plant.burnt_to_fines * dead
        share[GRAIN, burning] += (1.0 - plant.burnt_to_fines) * dead
    share[VOLATILES, VOLATILES] -= volatile
    share[FIXED_CARBON, VOLATILES] += plant.coke_yield * volatile
    share[FIXED_CARBON, FIXED_CARBON] -= coke
    share[INERT_FINES, FIXED_CARBON] += plant.carbon_ash * coke
    burnt, clean = plant.dust_combustibles, plant.dust_clay
    dust = np.array([plant.dust_grain, plant.dust_grain, clean, clean, burnt, burnt, plant.dust_fines])
    share *= ((1.0 - dust) * (1.0 - plant.carry_out))[:, None]
    core = plant.core_retention * core_share / sand_to_metal
    return share + core * _core_mix(plant)[:, None]


def core_in(plant: Plant, sand_to_metal: float, core_share: float) -> float:
    """Core sand that joins 1 kg of dry sand, kg."""
    return plant.core_retention * core_share / sand_to_metal


def _core_mix(plant: Plant) -> Floats:
    mix = np.zeros(WATER)
    mix[VOLATILES], mix[FIXED_CARBON] = plant.core_volatiles, plant.core_carbon
    mix[INERT_FINES] = plant.core_fines
    mix[CORE_GRAIN] = 1.0 - mix.sum()
    return mix


def additions(
    plant: Plant, bentonite: Floats, carbon: Floats, sand: Floats, water: Floats, lots: tuple[float, ...]
) -> Floats:
    """Components of what is fed, kg as it truly enters; `lots` as `Mill.lots` gives them."""
    clay_assay, clay_moisture, volatile, coal_moisture = lots
    added = np.zeros((COUNT, bentonite.size))
    dry_clay = bentonite * (1.0 - clay_moisture)
    dry_coal = carbon * (1.0 - coal_moisture)
    dry_sand = sand * (1.0 - plant.new_sand_moisture)
    added[NEW_CLAY] = dry_clay * clay_assay
    added[VOLATILES] = dry_coal * volatile
    added[FIXED_CARBON] = dry_coal * (1.0 - volatile - plant.coal_ash)
    added[INERT_FINES] = (
        dry_clay * (1.0 - clay_assay) + dry_coal * plant.coal_ash + dry_sand * plant.new_sand_fines
    )
    added[GRAIN] = dry_sand * (1.0 - plant.new_sand_fines)
    added[WATER] = water + bentonite + carbon + sand - dry_clay - dry_coal - dry_sand
    return added


def mull(plant: Plant, batch: Floats, added: Floats, water: Floats, ambient: float) -> tuple[Floats, Floats]:
    """The prepared sand, and the water that left as vapour, kg."""
    incoming = np.add.reduce(batch[DRY])
    prepared = batch + added
    developed = plant.developed * prepared[NEW_CLAY]
    prepared[NEW_CLAY] -= developed
    prepared[CLAY] += developed
    dry = np.add.reduce(prepared[DRY])
    heat = dry * plant.heat_capacity
    warm = batch[WARMTH] / incoming
    taken = water * WATER_HEAT * (warm - plant.water_temperature) / heat
    before = warm - taken + 3.6 * plant.work_kwh_per_t / plant.heat_capacity
    cooling = plant.muller_cooling * np.maximum(0.0, before - ambient)
    vapour = np.minimum(plant.evaporating_share * cooling * heat / plant.latent_heat, 0.9 * prepared[WATER])
    prepared[WARMTH] = dry * (before - cooling)
    prepared[WATER] -= vapour
    return prepared, vapour


def heine(clay: float, compactability: float) -> float:
    """Published level of moisture, % of moist (ICRI report 610, equilibrium moisture)."""
    if compactability <= 47.5:
        return clay / (2.583 - 0.01185 * compactability)
    return clay / (3.213 - 0.02525 * compactability)


def absorbing(plant: Plant, state: Floats) -> Floats:
    """Moisture taken up by clay, fines, carbon and warmth above the plant's level, %."""
    dry = np.add.reduce(state[DRY])
    clay = plant.demand_clay * (state[CLAY] + plant.demand_new_clay * state[NEW_CLAY])
    fines = plant.demand_fines * state[INERT_FINES]
    carbon = plant.demand_carbon * (state[VOLATILES] + state[FIXED_CARBON])
    hot = np.maximum(0.0, state[WARMTH] / dry - 35.0)
    return np.asarray(100.0 * (clay + fines + carbon) / dry + plant.demand_heat * hot)


def compactability(plant: Plant, state: Floats, demand: Floats | float) -> Floats:
    """Compactability, %, of sand whose demand is `demand` + what it absorbs at the plant's target."""
    moisture = 100.0 * state[WATER] / np.add.reduce(state[:WARMTH])
    over = moisture - demand - absorbing(plant, state)
    target = plant.compactability_target - plant.compactability_offset
    return np.asarray(np.clip(target + plant.slope * over, 3.0, 80.0))


def tested(plant: Plant, state: Floats, compact: Floats, bond: float) -> dict[str, Floats]:
    """True values of what the laboratory tests, before its own scale and scatter."""
    dry = np.add.reduce(state[DRY])
    share = 100.0 * state / dry
    active = share[CLAY] + share[NEW_CLAY]
    working = share[CLAY] + plant.demand_new_clay * share[NEW_CLAY]
    burning = share[VOLATILES] + share[FIXED_CARBON]
    return {
        "compactability": compact,
        "moisture": 100.0 * state[WATER] / np.add.reduce(state[:WARMTH]),
        "green_compression_strength": KPA_PER_PSI * bond * working * (132.1 - compact) / 15.29,
        "sand_temperature": share[WARMTH] / 100.0,
        "active_clay": active,
        "volatiles": share[VOLATILES],
        "loss_on_ignition": burning + plant.bound_water * active,
        "afs_clay": active + share[INERT_FINES] + plant.washed_out * burning,
    }
