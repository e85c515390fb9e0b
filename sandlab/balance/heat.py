"""Heat of a batch: how much water evaporates between return and discharge temperature."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sandlab.errors import impossible

SAND_HEAT = 0.85  # kJ/(kg K), dry silica sand, published range 0.8-0.9
WATER_HEAT = 4.19  # kJ/(kg K)
KJ_PER_KWH = 3600.0


@dataclass(frozen=True, slots=True)
class Stream:
    """One thing charged into the muller: dry mass [kg], its water [kg] and temperature [C]."""

    dry_kg: float
    water_kg: float
    temperature: float


@dataclass(frozen=True, slots=True)
class Evaporation:
    """Water to add [kg] and water that evaporates [kg]."""

    water_kg: float
    evaporated_kg: float


def latent_heat(temperature: float) -> float:
    """Latent heat of water, a line through two points of the steam tables.

    ``2418 - 2.4 (temperature - 35)``

    temperature: temperature of the evaporating water [C]
    returns: latent heat [kJ/kg]

    Shapes: scalars.
    Validity: 0 to 100 C, within 0.3 % of the steam tables (2501 at 0, 2257 at 100).
    Errors: none.
    Example:
    >>> latent_heat(40.0)
    2406.0

    Source: memory, steam tables: 2418 kJ/kg at 35 C, 2406 at 40 C.
    """
    return 2418.0 - 2.4 * (temperature - 35.0)


def cooling(water: float, latent_heat: float, heat_capacity: float) -> float:
    """Fall in temperature when part of the sand's mass evaporates as water.

    ``water/100 latent_heat / heat_capacity``

    water: evaporated water [% of the sand]
    latent_heat: latent heat of the water [kJ/kg]
    heat_capacity: heat capacity of the sand [kJ/(kg K)]
    returns: fall in temperature [K]

    Shapes: scalars.
    Validity: all heat comes from the sand.
    Errors: InputError when the heat capacity is not above 0.
    Example:
    >>> round(cooling(1.0, 2400.0, 0.90), 1)
    26.7

    Source: foundry_lexicon, entry "Used sand cooling" (27 K per 1 %).
    """
    if not heat_capacity > 0.0:
        raise impossible(
            "heat capacity", f"{heat_capacity} is not possible", "dry sand has 0.8 to 0.9 kJ/(kg K)"
        )
    return water / 100.0 * latent_heat / heat_capacity


def cooling_water(
    dry_kg: float,
    before: float,
    after: float,
    water_temperature: float,
    held_water_kg: float = 0.0,
    heat_capacity: float = SAND_HEAT,
    water_heat: float = WATER_HEAT,
    latent_heat: float = 2406.0,
) -> float:
    """Water that cools sand by evaporating altogether.

    ``(dry_kg heat_capacity + held_water_kg water_heat)(before - after)
    / (water_heat (after - water_temperature) + latent_heat)``

    dry_kg: dry sand [kg]
    before: temperature of the sand before [C]
    after: temperature of the sand after [C]
    water_temperature: temperature of the cooling water [C]
    held_water_kg: water already in the sand, cooled with it [kg]
    heat_capacity: heat capacity of dry sand [kJ/(kg K)]
    water_heat: heat capacity of water [kJ/(kg K)]
    latent_heat: latent heat at the final temperature [kJ/kg]
    returns: cooling water [kg]

    Shapes: scalars.
    Validity: any consistent set of units; no other heat gained or lost.
    Errors: InputError when the final temperature is above the first.
    Example:
    >>> round(cooling_water(2000.0, 302.0, 212.0, 70.0, 0.0, 0.2, 1.0, 974.0), 2)
    32.26

    Source: mc_cooling, worked example in lb, F and Btu.
    """
    if not after <= before:
        raise impossible(
            "cooling", f"sand at {before} does not cool to {after}", "give a lower final temperature"
        )
    heat = (dry_kg * heat_capacity + held_water_kg * water_heat) * (before - after)
    return heat / (water_heat * (after - water_temperature) + latent_heat)


def discharge_temperature(return_temperature: float, ambient_temperature: float, eta: float) -> float:
    """Temperature at discharge when it is not measured.

    ``ambient_temperature + (1 - eta)(return_temperature - ambient_temperature)``

    return_temperature: temperature of the return sand [C]
    ambient_temperature: temperature of the air [C]
    eta: share of the excess over ambient that is lost in the muller, plant value [-]
    returns: discharge temperature [C]

    Shapes: scalars.
    Validity: a plant's own eta.
    Errors: none.
    Example:
    >>> discharge_temperature(50.0, 20.0, 0.5)
    35.0

    Source: common_practice, an exchanger of given efficiency.
    """
    return ambient_temperature + (1.0 - eta) * (return_temperature - ambient_temperature)


def heat_above(streams: Sequence[Stream], discharge: float, work_kwh_per_t: float) -> float:
    """Heat that streams and the muller's work bring above the discharge temperature.

    ``sum((dry c + water cw)(temperature - discharge)) + work``

    streams: everything charged but the water addition [kg, kg, C]
    discharge: discharge temperature [C]
    work_kwh_per_t: work of the muller per t of these streams [kWh/t]
    returns: heat, below 0 when the streams are colder than the discharge [kJ]

    Shapes: scalars.
    Validity: heat capacities of 0.85 (sand and additions) and 4.19 kJ/(kg K) (water).
    Errors: none.
    Example:
    >>> heat_above([Stream(1000.0, 0.0, 40.0)], 30.0, 0.0)
    8500.0

    Source: derived, conservation of energy.
    """
    sensible = sum(
        (s.dry_kg * SAND_HEAT + s.water_kg * WATER_HEAT) * (s.temperature - discharge) for s in streams
    )
    mass = sum(s.dry_kg + s.water_kg for s in streams)
    return sensible + work_kwh_per_t * KJ_PER_KWH * mass / 1000.0


def evaporation(heat: float, water_kg: float, water_temperature: float, discharge: float) -> float:
    """Water that evaporates when a known amount was added.

    ``(heat + water_kg cw (water_temperature - discharge)) / latent_heat``, not below 0

    heat: heat of everything else above the discharge temperature [kJ]
    water_kg: water added [kg]
    water_temperature: temperature of that water [C]
    discharge: discharge temperature [C]
    returns: evaporated water [kg]

    Shapes: scalars.
    Validity: all heat above the discharge temperature evaporates water.
    Errors: none.
    Example:
    >>> evaporation(24060.0, 0.0, 15.0, 40.0)
    10.0

    Source: derived, conservation of energy.
    """
    excess = WATER_HEAT * (water_temperature - discharge)
    return max(0.0, (heat + water_kg * excess) / latent_heat(discharge))


def water_with_evaporation(
    heat: float, needed_kg: float, water_temperature: float, discharge: float
) -> Evaporation:
    """Water to add so that enough is left after evaporation, in closed form.

    ``W = needed_kg + E`` and ``E L = heat + W cw (water_temperature - discharge)``, so
    ``E = (heat + needed_kg cw (water_temperature - discharge)) / (L + cw (discharge - water_temperature))``

    heat: heat of everything else above the discharge temperature [kJ]
    needed_kg: water that the batch lacks at discharge, below 0 where it is too wet [kg]
    water_temperature: temperature of the added water [C]
    discharge: discharge temperature [C]
    returns: water to add and water that evaporates [kg]

    Shapes: scalars.
    Validity: E is not below 0; the water is below 0 where the sand is too wet.
    Errors: none.
    Example:
    >>> water_with_evaporation(0.0, 20.0, 15.0, 15.0).water_kg
    20.0

    Source: derived, conservation of mass and energy.
    """
    excess = WATER_HEAT * (water_temperature - discharge)
    evaporated = max(0.0, (heat + needed_kg * excess) / (latent_heat(discharge) - excess))
    return Evaporation(water_kg=needed_kg + evaporated, evaporated_kg=evaporated)
