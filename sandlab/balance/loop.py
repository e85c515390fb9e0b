"""One pass of the sand: muller, mould, pour, shakeout, cooling and dust extraction, storage, muller."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Loop:
    """One pass round the system; start values are the plant's. Shares lie between 0 and 1.

    sand_to_metal: dry sand in the mould per metal poured [kg/kg]
    core_sand_t_per_t: core sand per metal poured [t/t]
    core_retention: share of the core sand that stays in the system [-]
    spill: share of the sand that returns unpoured, hence unburnt [-]
    clay_wear_factor: active clay lost per 100 kg metal and per 1 % content [kg]
    carbon_wear_factor: volatiles lost per 100 kg metal and per 1 % content [kg]
    fixed_carbon_wear_factor: the same of fixed carbon; None takes carbon_wear_factor [kg]
    bound_water: water bound in the clay, gone when it burns [share of the clay]
    burnt_clay_to_fines: share of the burnt clay that becomes fines; the rest bakes on the grain [-]
    coke_yield: fixed carbon left by burnt volatiles [-]
    volatiles_ash: inert fines left by burnt volatiles [-]
    carbon_ash: inert fines left by burnt fixed carbon [-]
    dust_active_clay, dust_volatiles, dust_fixed_carbon, dust_inert_fines, dust_grain: share of each
        extracted with the dust in one cycle [-]
    core_active_clay, core_volatiles, core_fixed_carbon, core_inert_fines: core sand as it enters
        the return sand, the rest is grain [% of dry]
    """

    sand_to_metal: float
    core_sand_t_per_t: float = 0.0
    core_retention: float = 1.0
    spill: float = 0.0
    clay_wear_factor: float = 0.33
    carbon_wear_factor: float = 1.1
    fixed_carbon_wear_factor: float | None = None
    bound_water: float = 0.055
    burnt_clay_to_fines: float = 0.6
    coke_yield: float = 0.2
    volatiles_ash: float = 0.0
    carbon_ash: float = 0.0
    dust_active_clay: float = 0.0
    dust_volatiles: float = 0.0
    dust_fixed_carbon: float = 0.0
    dust_inert_fines: float = 0.0
    dust_grain: float = 0.0
    core_active_clay: float = 0.0
    core_volatiles: float = 0.0
    core_fixed_carbon: float = 0.0
    core_inert_fines: float = 0.0
