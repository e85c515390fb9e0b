"""The muller's charge before water is added, and its moisture after evaporation, in closed form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sandlab.balance.batch import dry_mass, moisture_of, water_per_dry
from sandlab.balance.evidence import evidence, greatest_age, newest, words
from sandlab.balance.heat import (
    Evaporation,
    Stream,
    discharge_temperature,
    evaporation,
    heat_above,
    water_with_evaporation,
)
from sandlab.balance.inputs import AdviceInputs
from sandlab.balance.steering import Dose


@dataclass(frozen=True, slots=True)
class Charge:
    """What is in the muller before water is added: streams, discharge temperature [C], heat above it [kJ]."""

    streams: tuple[Stream, ...]
    discharge: float
    heat: float

    @property
    def dry_kg(self) -> float:
        """Dry mass [kg]."""
        return sum(stream.dry_kg for stream in self.streams)

    @property
    def water_kg(self) -> float:
        """Water that is already there [kg]."""
        return sum(stream.water_kg for stream in self.streams)


@dataclass(frozen=True, slots=True)
class ReturnState:
    """Moisture [% of moist] and temperature [C] of the return sand, and what had to be assumed."""

    moisture: float
    temperature: float
    discharge_offset: float
    flags: tuple[str, ...] = ()


def return_state(inputs: AdviceInputs) -> ReturnState:
    """Return sand by its newest tests, else by older tests filtered from the usual value, which is flagged.

    A discharge temperature that was measured beside the return temperature shifts the estimate from eta, for
    the coming batches and for the tested ones alike, so that both stay on one scale.
    """
    muller = inputs.muller
    moisture, moisture_flag = _value("return_moisture", "%", muller.return_moisture, inputs)
    temperature, temperature_flag = _value("return_temperature", "C", muller.return_temperature, inputs)
    discharge, offset = newest("sand_temperature", inputs), 0.0
    if discharge is not None and not temperature_flag:
        estimate = discharge_temperature(temperature, muller.ambient_temperature, muller.discharge_eta)
        offset = discharge.value - estimate
    flags = tuple(flag for flag in (moisture_flag, temperature_flag) if flag)
    return ReturnState(moisture, temperature, offset, flags)


def _value(name: str, unit: str, usual: float, inputs: AdviceInputs) -> tuple[float, str]:
    tested = newest(name, inputs)
    if tested is not None:
        return tested.value, ""
    older = inputs.tests.get(name, ())
    limit = greatest_age(name, inputs.targets)
    value = evidence(name, older, usual, weight=inputs.weight, greatest_age_min=limit).value
    origin = "older tests" if older else "the usual value"
    return value, f"no recent {words(name)}: {value:.1f} {unit} from {origin} was used"


def charge(inputs: AdviceInputs, doses: Sequence[Dose], sand: ReturnState) -> Charge:
    """The muller's charge with return sand in this state."""
    muller = inputs.muller
    dry = dry_mass(muller.batch_kg, sand.moisture)
    streams = [Stream(dry, muller.batch_kg - dry, sand.temperature)]
    streams += [
        Stream(dose.dry_kg, dose.kg - dose.dry_kg, dose.feeder.material.temperature) for dose in doses
    ]
    estimate = discharge_temperature(sand.temperature, muller.ambient_temperature, muller.discharge_eta)
    discharge = min(max(estimate + sand.discharge_offset, 0.0), 100.0)
    heat = heat_above(streams, discharge, muller.work_kwh_per_t)
    return Charge(tuple(streams), discharge, heat)


def moisture_after(batch: Charge, water_kg: float, water_temperature: float) -> tuple[float, float]:
    """Moisture [% of moist] at discharge and evaporated water [kg] when so much water was added."""
    held = batch.water_kg + water_kg
    lost = min(held, evaporation(batch.heat, water_kg, water_temperature, batch.discharge))
    return moisture_of(held - lost, batch.dry_kg), lost


def water_for(batch: Charge, moisture: float, water_temperature: float) -> Evaporation:
    """Water that brings the charge to a moisture at discharge."""
    needed = batch.dry_kg * water_per_dry(moisture) - batch.water_kg
    return water_with_evaporation(batch.heat, needed, water_temperature, batch.discharge)
