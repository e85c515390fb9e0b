"""What a recommendation is made for: feeders, targets, muller."""

from __future__ import annotations

from dataclasses import dataclass

from sandlab.balance.materials import Material


@dataclass(frozen=True, slots=True)
class Feeder:
    """One feeder of the muller; kg per batch as weighed.

    id: name of the feeder
    material: what it feeds
    minimum_kg, maximum_kg: what it can feed [kg]
    resolution_kg: smallest difference it can be set to [kg]
    greatest_step_kg: greatest change allowed in one step [kg]
    present_kg: what is set now: the last release, or the reference when nothing was released [kg]
    reference_kg: new sand is not cut below it because inert fines are low, None where nothing is known [kg]
    """

    id: str
    material: Material
    minimum_kg: float
    maximum_kg: float
    resolution_kg: float
    greatest_step_kg: float
    present_kg: float
    reference_kg: float | None = None


@dataclass(frozen=True, slots=True)
class Target:
    """Where a property belongs: target +/- tolerance, in the unit of the property."""

    property: str
    target: float
    tolerance: float


@dataclass(frozen=True, slots=True)
class Muller:
    """The muller, what it is charged with, and the start values used when no test is recent.

    batch_kg: moist return sand in one batch [kg]
    work_kwh_per_t: work of the muller that ends as heat [kWh/t]
    discharge_eta: share of the excess over ambient that the sand loses in the muller [-]
    ambient_temperature: [C]
    return_moisture: usual moisture of the return sand [% of moist]
    return_temperature: usual temperature of the return sand [C]
    """

    batch_kg: float
    work_kwh_per_t: float = 2.0
    discharge_eta: float = 0.3
    ambient_temperature: float = 20.0
    return_moisture: float = 2.0
    return_temperature: float = 35.0
