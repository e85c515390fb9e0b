"""What the sand is like: the properties that follow from composition, water and temperature.

Own relations. Working bond and its share of strength: published (ICRI report 610). The rest is common
practice put into straight lines about the usual sand: compactability rises 26 points per 1 % moisture over
the demand of clay, fines and carbon; permeability falls with fines and clay; weight falls with
compactability.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sandlab.plant.parameters import (
    CLAY,
    CORE_GRAIN,
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

POINTS_PER_MOISTURE = 26.0
KPA_PER_PSI = 6.894757


def properties(state: Floats, temper_level: float | Floats) -> dict[str, Floats]:
    """True values in the catalogue's units of prepared sand, from its masses (components first)."""
    dry = state[DRY].sum(axis=0)
    share = 100.0 * state / dry
    active = share[CLAY] + share[NEW_CLAY]
    working = share[CLAY] + 0.4 * share[NEW_CLAY]
    volatiles, carbon, fines = share[VOLATILES], share[FIXED_CARBON], share[INERT_FINES]
    moisture = 100.0 * state[WATER] / (dry + state[WATER])
    temperature = state[WARMTH] / dry
    demand = temper_level + 0.22 * working + 0.12 * fines + 0.16 * (volatiles + carbon)
    compact = 42.0 + POINTS_PER_MOISTURE * (moisture - demand) - 0.12 * (temperature - 34.0)
    off = compact - 42.0
    # ICRI report 610: working bond = 15.29 GCS/(132.1 - CB), GCS in psi.
    strength = KPA_PER_PSI * 0.53 * working * (132.1 - compact) / 15.29
    fineness = 60.0 - 12.0 * share[CORE_GRAIN] / (share[CORE_GRAIN] + share[GRAIN])
    pass_fines = 0.35 + 0.35 * fines
    return {
        "compactability": compact,
        "moisture": moisture,
        "green_compression_strength": strength,
        "permeability": 112.0
        - 6.0 * (fines - 3.3)
        - 4.0 * (active - 8.0)
        + 0.9 * off
        - 3.0 * (volatiles - 1.4),
        "specimen_weight": 150.5 - 0.38 * off - 0.4 * (active - 8.0) - 0.3 * (fines - 3.3),
        "sand_temperature": temperature,
        "active_clay": active,
        "green_shear_strength": 0.24 * strength,
        "dry_compression_strength": 480.0 + 55.0 * (active - 8.0) + 180.0 * (moisture - 3.4),
        "wet_tensile_strength": 0.26 + 0.03 * (working - 7.7) - 0.008 * (fines - 3.3),
        "volatiles": volatiles,
        "loss_on_ignition": volatiles + carbon + 0.055 * active,
        "friability": 7.5 - 0.35 * off + 0.5 * (fines - 3.3),
        "shatter_index": 79.0 + 0.6 * off + 1.5 * (working - 7.7),
        "mould_hardness": 88.0 - 0.25 * off + 0.04 * (strength - 160.0),
        "afs_clay": active + fines + 0.5 * (volatiles + carbon),
        "grain_fineness_number": fineness + 1.5 * pass_fines,
        "fines": pass_fines,
    }


def of_return(state: Floats) -> dict[str, Floats]:
    """True moisture and temperature of return sand on the belt."""
    dry = state[DRY].sum(axis=0)
    return {
        "return_moisture": 100.0 * state[WATER] / (dry + state[WATER]),
        "return_temperature": state[WARMTH] / dry,
    }
