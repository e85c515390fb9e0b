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


def compactability(state: Floats, temper_level: float | Floats) -> Floats:
    """Compactability of prepared sand, %."""
    dry = np.add.reduce(state[DRY])
    fine = 0.22 * (state[CLAY] + 0.4 * state[NEW_CLAY]) + 0.12 * state[INERT_FINES]
    demand = temper_level + 100.0 * (fine + 0.16 * (state[VOLATILES] + state[FIXED_CARBON])) / dry
    moisture = 100.0 * state[WATER] / (dry + state[WATER])
    hot = state[WARMTH] / dry - 34.0
    return np.asarray(42.0 + POINTS_PER_MOISTURE * (moisture - demand) - 0.12 * hot)


def active_clay(state: Floats) -> Floats:
    """Clay that takes up methylene blue, % of dry sand."""
    return np.asarray(100.0 * (state[CLAY] + state[NEW_CLAY]) / np.add.reduce(state[DRY]))


def volatiles(state: Floats) -> Floats:
    """Volatile matter, % of dry sand."""
    return np.asarray(100.0 * state[VOLATILES] / np.add.reduce(state[DRY]))


def properties(state: Floats, temper_level: float | Floats) -> dict[str, Floats]:
    """True values in the catalogue's units of prepared sand, from its masses (components first)."""
    dry = state[DRY].sum(axis=0)
    share = 100.0 * state / dry
    active, volatile, compact = active_clay(state), volatiles(state), compactability(state, temper_level)
    working = share[CLAY] + 0.4 * share[NEW_CLAY]
    carbon, fines = share[FIXED_CARBON], share[INERT_FINES]
    moisture = 100.0 * state[WATER] / (dry + state[WATER])
    temperature = state[WARMTH] / dry
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
        - 3.0 * (volatile - 1.4),
        "specimen_weight": 150.5 - 0.38 * off - 0.4 * (active - 8.0) - 0.3 * (fines - 3.3),
        "sand_temperature": temperature,
        "active_clay": active,
        "green_shear_strength": 0.24 * strength,
        "dry_compression_strength": 480.0 + 55.0 * (active - 8.0) + 180.0 * (moisture - 3.4),
        "wet_tensile_strength": 0.26 + 0.03 * (working - 7.7) - 0.008 * (fines - 3.3),
        "volatiles": volatile,
        "loss_on_ignition": volatile + carbon + 0.055 * active,
        "friability": 7.5 - 0.35 * off + 0.5 * (fines - 3.3),
        "shatter_index": 79.0 + 0.6 * off + 1.5 * (working - 7.7),
        "mould_hardness": 88.0 - 0.25 * off + 0.04 * (strength - 160.0),
        "afs_clay": active + fines + 0.5 * (volatile + carbon),
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
