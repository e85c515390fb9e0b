"""Water and heat of one batch as logged: its moisture by the balance, and the water for a wanted moisture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sandlab.balance.batch import moisture_of, water_per_dry
from sandlab.balance.heat import (
    Stream,
    discharge_temperature,
    evaporation,
    heat_above,
    water_with_evaporation,
)
from sandlab.balance.inputs import Feeder, Muller


@dataclass(frozen=True, slots=True)
class WaterBalance:
    """A charge before water is added: masses [kg], discharge temperature [C], heat above it [kJ]."""

    dry_kg: float
    water_kg: float
    discharge: float
    heat: float
    water_temperature: float

    def moisture(self, water_kg: float) -> float:
        """Moisture at discharge when so much water was added [% of moist]."""
        held = self.water_kg + water_kg
        lost = min(held, evaporation(self.heat, water_kg, self.water_temperature, self.discharge))
        return moisture_of(held - lost, self.dry_kg)

    def water_for(self, moisture: float) -> float:
        """Water that brings the charge to a moisture at discharge [kg]."""
        needed = self.dry_kg * water_per_dry(moisture) - self.water_kg
        return water_with_evaporation(self.heat, needed, self.water_temperature, self.discharge).water_kg


def water_balance(
    muller: Muller,
    return_kg: float,
    moisture: float,
    temperature: float,
    additions: Sequence[tuple[Feeder, float]],
    *,
    discharge_offset: float,
    water_temperature: float,
) -> WaterBalance:
    """The charge of moist return sand and additions (kg as weighed); the offset corrects eta by tests."""
    dry = return_kg * (1.0 - moisture / 100.0)
    streams = [Stream(dry, return_kg - dry, temperature)]
    for feeder, kg in additions:
        solid = kg * feeder.material.dry_share
        streams.append(Stream(solid, kg - solid, feeder.material.temperature))
    estimate = discharge_temperature(temperature, muller.ambient_temperature, muller.discharge_eta)
    discharge = min(max(estimate + discharge_offset, 0.0), 100.0)
    return WaterBalance(
        dry_kg=sum(stream.dry_kg for stream in streams),
        water_kg=sum(stream.water_kg for stream in streams),
        discharge=discharge,
        heat=heat_above(streams, discharge, muller.work_kwh_per_t),
        water_temperature=water_temperature,
    )
