"""What a plant may be: every figure with its range; one plant is one draw of all of them.

Basis: "published" figures are printed in the foundry lexicon, in ICRI report 610 or in trade notes on
automatic green-sand lines; "practice" is common practice without a source; "own" is a size chosen here.
Nothing is fixed and no noise is zero. Shares are fractions, masses kg, temperatures C, time hours.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np


def ranged(low: float, high: float, unit: str, basis: str) -> Any:
    """A field that is drawn between two ends."""
    return field(metadata={"low": low, "high": high, "unit": unit, "basis": basis})


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """One plant: sand system, materials, feeders, surroundings, laboratory."""

    # Targets, on the scale of the plant's own laboratory.
    clay_target: float = ranged(7.3, 8.8, "%", "practice")
    volatiles_target: float = ranged(0.9, 1.6, "%", "practice")
    compactability_target: float = ranged(38.0, 45.0, "%", "practice")
    # Pouring.
    clay_wear: float = ranged(0.25, 0.40, "kg per 100 kg metal and 1 %", "published")
    carbon_wear: float = ranged(0.7, 1.5, "kg per 100 kg metal and 1 %", "published")
    coke_wear: float = ranged(0.6, 1.0, "of carbon_wear", "practice")
    wear_spread: float = ranged(0.05, 0.15, "between jobs", "practice")
    sand_to_metal: float = ranged(4.8, 7.5, "kg/kg", "published")
    job_spread: float = ranged(0.08, 0.20, "between jobs", "practice")
    lot_spread: float = ranged(0.02, 0.05, "between lots of a job", "practice")
    core_share: float = ranged(0.03, 0.15, "kg per kg metal", "practice")
    core_spread: float = ranged(0.4, 0.8, "between jobs", "practice")
    job_hours: float = ranged(4.0, 9.0, "h", "practice")
    spill: float = ranged(0.02, 0.10, "of the sand", "practice")
    bound_water: float = ranged(0.045, 0.065, "of the clay", "published")
    burnt_to_fines: float = ranged(0.4, 0.8, "of burnt clay", "practice")
    coke_yield: float = ranged(0.1, 0.3, "of burnt volatiles", "practice")
    carbon_ash: float = ranged(0.05, 0.25, "of burnt carbon", "published")
    # After shakeout.
    carry_out: float = ranged(0.002, 0.006, "a cycle", "practice")
    dust_grain: float = ranged(0.0005, 0.002, "a cycle", "practice")
    dust_clay: float = ranged(0.002, 0.008, "a cycle", "practice")
    dust_combustibles: float = ranged(0.003, 0.010, "a cycle", "practice")
    dust_fines: float = ranged(0.04, 0.12, "a cycle", "practice")
    core_retention: float = ranged(0.4, 0.9, "of the core sand", "practice")
    core_volatiles: float = ranged(0.003, 0.010, "of core sand", "practice")
    core_carbon: float = ranged(0.001, 0.006, "of core sand", "practice")
    core_fines: float = ranged(0.002, 0.010, "of core sand", "practice")
    cooled_moisture: float = ranged(1.5, 2.3, "% after the cooler", "published")
    cooled_moisture_sd: float = ranged(0.10, 0.22, "%", "practice")
    cooled_moisture_memory: float = ranged(1.5, 6.0, "h", "own")
    return_rise: float = ranged(8.0, 16.0, "K above the hall", "published")
    return_rise_sd: float = ranged(1.0, 2.5, "K", "practice")
    pour_heat: float = ranged(25.0, 60.0, "K per kg metal per kg sand", "practice")
    ambient: float = ranged(15.0, 24.0, "C", "practice")
    ambient_day: float = ranged(0.8, 3.0, "K by day", "practice")
    ambient_sd: float = ranged(0.8, 2.0, "K", "practice")
    # Storage: moulding line and plug first in first out, then a stirred hopper.
    line_batches: float = ranged(16.0, 36.0, "batches", "practice")
    bunker_batches: float = ranged(40.0, 95.0, "batches", "practice")
    plug_share: float = ranged(0.2, 0.7, "of the bunker", "practice")
    standing_loss: float = ranged(0.01, 0.05, "of the water in a weekend", "practice")
    standing_cooling: float = ranged(150.0, 400.0, "h", "practice")
    # Muller.
    charge_kg: float = ranged(900.0, 2800.0, "kg moist", "practice")
    charge_scatter: float = ranged(0.002, 0.006, "a batch", "practice")
    work_kwh_per_t: float = ranged(1.0, 3.0, "kWh/t", "published")
    muller_cooling: float = ranged(0.20, 0.40, "of the excess", "practice")
    evaporating_share: float = ranged(0.5, 0.8, "of the cooling", "practice")
    heat_capacity: float = ranged(0.90, 1.05, "kJ/kg K", "published")
    latent_heat: float = ranged(2390.0, 2430.0, "kJ/kg", "published")
    water_temperature: float = ranged(10.0, 20.0, "C", "practice")
    developed: float = ranged(0.25, 0.50, "of new clay a mulling", "practice")
    # Temper water and strength.
    demand_offset: float = ranged(-0.5, 0.5, "% about the published level", "published")
    demand_clay: float = ranged(0.18, 0.30, "% per 1 %", "practice")
    demand_fines: float = ranged(0.06, 0.18, "% per 1 %", "practice")
    demand_carbon: float = ranged(0.08, 0.22, "% per 1 %", "practice")
    demand_heat: float = ranged(0.002, 0.012, "% per K above 35 C", "practice")
    demand_new_clay: float = ranged(0.3, 0.6, "of developed clay", "practice")
    demand_sd: float = ranged(0.03, 0.08, "%, slow", "own")
    demand_memory: float = ranged(8.0, 40.0, "h", "own")
    demand_scatter: float = ranged(0.010, 0.025, "%, batch", "own")
    slope: float = ranged(20.0, 35.0, "points per 1 %", "practice")
    bond: float = ranged(0.48, 0.60, "of available bond", "practice")
    bond_sd: float = ranged(0.01, 0.03, "slow", "own")
    # Materials: the assay of dry bentonite is true active clay.
    bentonite_assay: float = ranged(0.86, 0.98, "of dry", "published")
    bentonite_moisture: float = ranged(0.08, 0.12, "of moist", "published")
    coal_volatiles: float = ranged(0.25, 0.38, "of dry", "published")
    coal_ash: float = ranged(0.10, 0.20, "of dry", "published")
    coal_moisture: float = ranged(0.01, 0.05, "of moist", "published")
    new_sand: float = ranged(0.006, 0.020, "of the charge", "published")
    new_sand_fines: float = ranged(0.001, 0.006, "of dry", "practice")
    new_sand_moisture: float = ranged(0.001, 0.004, "of moist", "practice")
    lot_sd: float = ranged(0.008, 0.020, "of the assay, lot to lot", "practice")
    certificate_sd: float = ranged(0.005, 0.015, "of the assay", "practice")
    # Feeders.
    feeder_bias: float = ranged(0.01, 0.03, "sd", "practice")
    feeder_memory: float = ranged(20.0, 80.0, "h", "own")
    feeder_scatter: float = ranged(0.01, 0.03, "a batch", "practice")
    feeder_resolution: float = ranged(0.02, 0.05, "% of the charge", "practice")
    weighing_sd: float = ranged(0.05, 0.20, "kg", "practice")
    water_bias: float = ranged(0.005, 0.02, "sd", "practice")
    water_scatter: float = ranged(0.004, 0.012, "a batch", "practice")
    water_resolution: float = ranged(0.006, 0.020, "% of the charge", "practice")
    # What people believe: their recipe and their nameplates.
    recipe_clay: float = ranged(0.93, 1.07, "of the right dose", "own")
    recipe_carbon: float = ranged(0.90, 1.10, "of the right dose", "own")
    known_stock: float = ranged(0.88, 1.12, "of the true stock", "own")
    known_metal: float = ranged(0.95, 1.05, "of the true sand:metal", "own")
    known_carbon: float = ranged(0.85, 1.15, "of the true fixed carbon", "own")
    known_fines: float = ranged(0.85, 1.15, "of the true inert fines", "own")
    # Belt probes.
    probe_moisture_sd: float = ranged(0.04, 0.10, "%", "practice")
    probe_moisture_drift: float = ranged(0.06, 0.15, "%", "practice")
    probe_temperature_sd: float = ranged(0.4, 1.2, "K", "practice")
    probe_temperature_drift: float = ranged(0.5, 1.5, "K", "practice")
    probe_memory: float = ranged(30.0, 150.0, "h", "own")
    # Laboratory: sd of one result with sampling; its calibration is the basis of target and score.
    clay_calibration: float = ranged(0.95, 1.05, "lab's over true", "practice")
    volatiles_calibration: float = ranged(0.97, 1.03, "lab's over true", "practice")
    compactability_offset: float = ranged(-1.0, 1.0, "points", "practice")
    clay_sd: float = ranged(0.18, 0.30, "%", "published")
    operator_sd: float = ranged(0.05, 0.15, "% between operators", "practice")
    volatiles_sd: float = ranged(0.04, 0.08, "%", "practice")
    compactability_sd: float = ranged(0.9, 1.6, "points", "practice")
    moisture_sd: float = ranged(0.05, 0.09, "%", "practice")
    strength_sd: float = ranged(3.5, 7.0, "kPa", "practice")
    temperature_sd: float = ranged(0.7, 1.5, "K", "practice")
    loss_sd: float = ranged(0.07, 0.13, "%", "practice")
    washing_sd: float = ranged(0.20, 0.40, "%", "practice")
    missed: float = ranged(0.04, 0.12, "of the tests", "practice")
    late: float = ranged(0.03, 0.10, "of the tests", "practice")
    late_hours: float = ranged(2.0, 6.0, "h more", "practice")
    blunders: float = ranged(0.002, 0.008, "of the tests", "own")
    washed_out: float = ranged(0.3, 0.7, "of combustibles counted as AFS clay", "practice")
    stop_hours: float = ranged(25.0, 60.0, "h between short stops", "own")


def draw(random: np.random.Generator) -> Plant:
    """One plant: every figure uniform over its range, independently."""
    return Plant(
        **{
            item.name: float(random.uniform(item.metadata["low"], item.metadata["high"]))
            for item in fields(Plant)
        }
    )


def table() -> Iterator[tuple[str, float, float, str, str]]:
    """Name, low, high, unit and basis of every figure."""
    for item in fields(Plant):
        meta = item.metadata
        yield item.name, meta["low"], meta["high"], meta["unit"], meta["basis"]
