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
    """Latent heat of water through the two published points: L = 2418 - 2.4 (T - 35).

    temperature: [C], valid 0 to 100
    Returns [kJ/kg].

    Example: latent_heat(40.0) == 2406.0
    Source: steam tables (2418 kJ/kg at 35 C, 2406 at 40 C).
    """
    return 2418.0 - 2.4 * (temperature - 35.0)


def cooling(water: float, *, heat_capacity: float, latent_heat: float) -> float:
    """Fall in temperature when part of the sand's mass evaporates as water: dT = w/100 L / c.

    water: evaporated water [% of the sand]
    heat_capacity: of the sand [kJ/(kg K)]
    latent_heat: of the water [kJ/kg]
    Returns the fall [K].

    Example: cooling(1.0, heat_capacity=0.90, latent_heat=2400.0) is 26.7
    Source: foundry_lexicon, entry "Used sand cooling" (27 K per 1 %).
    """
    return water / 100.0 * latent_heat / heat_capacity


def cooling_water(
    dry_kg: float,
    before: float,
    after: float,
    water_temperature: float,
    *,
    held_water_kg: float = 0.0,
    heat_capacity: float = SAND_HEAT,
    water_heat: float = WATER_HEAT,
    latent_heat: float = 2406.0,
) -> float:
    """Water that cools sand by evaporating altogether: E = (m c + w cw)(T1 - T2) / (cw (T2 - Tw) + L).

    dry_kg: dry sand [kg]
    before, after: temperature of the sand [C]
    water_temperature: of the cooling water [C]
    held_water_kg: water already in the sand, cooled with it [kg]
    heat_capacity, water_heat: of dry sand and of water [kJ/(kg K)]
    latent_heat: at the final temperature [kJ/kg]
    Returns the water [kg]; any other consistent set of units serves as well.

    Example: 2000 lb from 302 to 212 F with water at 70 F, c = 0.2, L = 974 Btu/lb take 32.26 lb
    Source: mc_cooling.
    """
    if not after <= before:
        raise impossible(
            "cooling", f"sand at {before} does not cool to {after}", "give a lower final temperature"
        )
    heat = (dry_kg * heat_capacity + held_water_kg * water_heat) * (before - after)
    return heat / (water_heat * (after - water_temperature) + latent_heat)


def discharge_temperature(return_temperature: float, ambient_temperature: float, eta: float) -> float:
    """Temperature at discharge when it is not measured: Td = Ta + (1 - eta)(Tr - Ta).

    return_temperature: of the return sand [C]
    ambient_temperature: [C]
    eta: share of the excess over ambient lost in the muller, plant value [-]
    Returns the discharge temperature [C].

    Example: discharge_temperature(50.0, 20.0, 0.5) == 35.0
    Source: common_practice, an exchanger of given efficiency.
    """
    return ambient_temperature + (1.0 - eta) * (return_temperature - ambient_temperature)


def heat_above(streams: Sequence[Stream], discharge: float, *, work_kwh_per_t: float) -> float:
    """Heat that streams and the muller's work bring above the discharge temperature.

    Q = sum (m c + w cw)(T - Td) + work

    streams: everything charged except the water addition
    discharge: discharge temperature [C]
    work_kwh_per_t: work of the muller per t of these streams [kWh/t]
    Returns the heat [kJ]; below 0 when the streams are colder than the discharge.

    Example: heat_above([Stream(1000.0, 0.0, 40.0)], 30.0, work_kwh_per_t=0.0) == 8500.0
    Source: derived, conservation of energy.
    """
    sensible = sum(
        (s.dry_kg * SAND_HEAT + s.water_kg * WATER_HEAT) * (s.temperature - discharge) for s in streams
    )
    mass = sum(s.dry_kg + s.water_kg for s in streams)
    return sensible + work_kwh_per_t * KJ_PER_KWH * mass / 1000.0


def evaporation(heat: float, *, water_kg: float, water_temperature: float, discharge: float) -> float:
    """Water that evaporates when a known amount was added: E = (Q + W cw (Tw - Td)) / L, not below 0.

    heat: of everything else above the discharge temperature [kJ]
    water_kg: water added [kg]
    water_temperature: of that water [C]
    discharge: discharge temperature [C]
    Returns the evaporated water [kg].

    Example: evaporation(24060.0, water_kg=0.0, water_temperature=15.0, discharge=40.0) == 10.0
    Source: derived, conservation of energy.
    """
    return max(0.0, (heat + water_kg * WATER_HEAT * (water_temperature - discharge)) / latent_heat(discharge))


def water_with_evaporation(
    heat: float, *, needed_kg: float, water_temperature: float, discharge: float
) -> Evaporation:
    """Water to add so that enough is left after evaporation, in closed form.

    W = n + E and E L = Q + W cw (Tw - Td), so E = (Q + n cw (Tw - Td)) / (L + cw (Td - Tw)), not below 0.

    heat: of everything else above the discharge temperature [kJ]
    needed_kg: water that the batch lacks at discharge, may be below 0 [kg]
    water_temperature: of the added water [C]
    discharge: discharge temperature [C]
    Returns water and evaporation [kg]; the water is below 0 where the sand is too wet.

    Example: without heat and with water at discharge temperature, 20 kg are needed and 20 kg added
    Source: derived, conservation of mass and energy.
    """
    excess = WATER_HEAT * (water_temperature - discharge)
    evaporated = max(0.0, (heat + needed_kg * excess) / (latent_heat(discharge) - excess))
    return Evaporation(water_kg=needed_kg + evaporated, evaporated_kg=evaporated)
