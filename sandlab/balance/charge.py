"""The muller's charge before water is added, and its moisture after evaporation, in closed form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sandlab.balance.batch import dry_mass, moisture_of, water_per_dry
from sandlab.balance.evidence import newest
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


def charge(
    inputs: AdviceInputs,
    doses: Sequence[Dose],
    *,
    moisture: float,
    temperature: float,
    measured_discharge: float | None,
) -> Charge:
    """The muller's charge at one return moisture and temperature."""
    muller = inputs.muller
    dry = dry_mass(muller.batch_kg, moisture)
    streams = [Stream(dry, muller.batch_kg - dry, temperature)]
    streams += [
        Stream(dose.dry_kg, dose.kg - dose.dry_kg, dose.feeder.material.temperature) for dose in doses
    ]
    discharge = measured_discharge
    if discharge is None:
        discharge = discharge_temperature(temperature, muller.ambient_temperature, muller.discharge_eta)
    heat = heat_above(streams, discharge, work_kwh_per_t=muller.work_kwh_per_t)
    return Charge(tuple(streams), discharge, heat)


def present_charge(inputs: AdviceInputs, doses: Sequence[Dose]) -> tuple[Charge, tuple[str, ...]]:
    """The charge of the next batches from the newest tests of return sand, and what had to be assumed."""
    muller, flags = inputs.muller, []
    moisture, temperature = newest("return_moisture", inputs), newest("return_temperature", inputs)
    discharge = newest("sand_temperature", inputs)
    if moisture is None:
        flags.append(f"no recent return-sand moisture: the usual {muller.return_moisture:g} % was used")
    if temperature is None:
        flags.append(f"no recent return-sand temperature: the usual {muller.return_temperature:g} C was used")
    batch = charge(
        inputs,
        doses,
        moisture=muller.return_moisture if moisture is None else moisture.value,
        temperature=muller.return_temperature if temperature is None else temperature.value,
        # alone, without the return temperature, a discharge temperature says nothing about evaporation
        measured_discharge=discharge.value if discharge and temperature else None,
    )
    return batch, tuple(flags)


def moisture_after(batch: Charge, water_kg: float, water_temperature: float) -> tuple[float, float]:
    """Moisture [% of moist] at discharge and evaporated water [kg] when so much water was added."""
    held = batch.water_kg + water_kg
    lost = evaporation(
        batch.heat, water_kg=water_kg, water_temperature=water_temperature, discharge=batch.discharge
    )
    lost = min(lost, held)
    return moisture_of(held - lost, batch.dry_kg), lost


def water_for(batch: Charge, moisture: float, water_temperature: float) -> Evaporation:
    """Water that brings the charge to a moisture at discharge."""
    needed = batch.dry_kg * water_per_dry(moisture) - batch.water_kg
    return water_with_evaporation(
        batch.heat, needed_kg=needed, water_temperature=water_temperature, discharge=batch.discharge
    )
