"""The plant: who and where, and each sand system with muller, loop, feeders, targets and schedule."""

from __future__ import annotations

from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field, field_validator, model_validator

from sandlab.errors import nearest
from sandlab.quantities import DIMENSIONS
from sandlab.specs.catalogue import NonNegative, Pair, Positive, Spec, rising

Share = Annotated[float, Field(ge=0.0, le=1.0)]


class Labelled(Spec):
    """A thing that only has a name."""

    label: str


def _local_times(value: object) -> object:
    """Local times of day as minutes since midnight; TOML times and "07:00" are both understood."""
    if not isinstance(value, list | tuple):
        return value
    minutes = []
    for item in value:
        hours, _, rest = str(item).partition(":")
        if not (hours.isdigit() and rest[:2].isdigit() and int(hours) < 24 and int(rest[:2]) < 60):
            raise ValueError(f"'{item}' is not a time of day; write for example \"07:00\"")
        minutes.append(int(hours) * 60 + int(rest[:2]))
    return tuple(minutes)


class Contact(Labelled):
    """Whom to call."""

    phone: str = ""


class Plant(Spec):
    """The foundry: name, clock, number and unit habits, people to call."""

    name: str
    time_zone: str
    decimal_mark: Literal[".", ","] = "."
    units: dict[str, str] = {}
    contacts: dict[str, Contact] = {}
    # when each shift begins, minutes since local midnight
    shifts: Annotated[tuple[int, ...], BeforeValidator(_local_times), Field(min_length=1)] = (360, 840, 1320)

    @field_validator("shifts")
    @classmethod
    def _shifts_follow_each_other(cls, shifts: tuple[int, ...]) -> tuple[int, ...]:
        if list(shifts) != sorted(set(shifts)):
            raise ValueError("the shifts of a day begin one after the other")
        return shifts

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, name: str) -> str:
        try:
            ZoneInfo(name)
        except (KeyError, ValueError, OSError) as error:
            raise ValueError(
                f"'{name}' is not a time zone; write one such as 'Europe/Madrid' or 'UTC'"
            ) from error
        return name

    @field_validator("units")
    @classmethod
    def _known_units(cls, units: dict[str, str]) -> dict[str, str]:
        wrong = []
        for dimension, unit in units.items():
            if dimension not in DIMENSIONS:
                wrong.append(f"'{dimension}' is not a dimension; {nearest(dimension, tuple(DIMENSIONS))}")
            elif unit not in DIMENSIONS[dimension]:
                wrong.append(f"'{unit}' is not a unit of {dimension}; {nearest(unit, DIMENSIONS[dimension])}")
        if wrong:
            raise ValueError("; ".join(wrong))
        return units


class Stock(Spec):
    """Sand in the system, t."""

    sand_t: Positive


class Muller(Spec):
    """The muller and what it is charged with; start values of the water balance."""

    batch_kg: Positive
    batches_per_h: Positive
    work_kwh_per_t: NonNegative
    discharge_eta: Share
    ambient_temperature: float
    return_moisture: Annotated[float, Field(ge=0.0, lt=20.0)]
    return_temperature: float


class Loop(Spec):
    """Start values of one pass round the sand system (plant values; estimate your own)."""

    sand_to_metal: Positive
    core_sand_t_per_t: NonNegative
    core_retention: Share
    spill: Share
    clay_wear_factor: NonNegative
    carbon_wear_factor: NonNegative
    bound_water: Share
    burnt_clay_to_fines: Share
    coke_yield: Share
    volatiles_ash: Share
    carbon_ash: Share
    dust_active_clay: Share
    dust_volatiles: Share
    dust_fixed_carbon: Share
    dust_inert_fines: Share
    dust_grain: Share


class Feeder(Spec):
    """One feeder of the muller, kg per batch as weighed."""

    material: str
    minimum_kg: NonNegative
    maximum_kg: Positive
    resolution_kg: Positive
    greatest_step_kg: Positive
    reference_kg: NonNegative

    @model_validator(mode="after")
    def _limits_in_order(self) -> Feeder:
        if not self.minimum_kg <= self.reference_kg <= self.maximum_kg:
            raise ValueError("minimum_kg <= reference_kg <= maximum_kg does not hold")
        return self


class Target(Spec):
    """Where a property belongs: target +/- tolerance; outside the reaction limits the line holds."""

    target: float
    tolerance: Positive
    reaction: Pair

    @model_validator(mode="after")
    def _reaction_outside_tolerance(self) -> Target:
        low, high = rising(self.reaction)
        if self.target - self.tolerance < low or self.target + self.tolerance > high:
            raise ValueError("the reaction limits cut into target +/- tolerance")
        return self


class TestSet(Spec):
    """Properties due together: every so many minutes from local midnight, or at local times of day."""

    __test__ = False  # not a pytest class

    label: str
    point: str
    properties: tuple[str, ...] = Field(min_length=1)
    every_min: Annotated[int, Field(ge=5, le=1440)] | None = None
    # minutes since local midnight
    at: Annotated[tuple[int, ...], BeforeValidator(_local_times)] = ()
    weekday: Annotated[int, Field(ge=0, le=6)] | None = None
    grace_min: Annotated[int, Field(ge=0)]

    @model_validator(mode="after")
    def _has_times(self) -> TestSet:
        if (self.every_min is None) == (not self.at):
            raise ValueError("give either every_min or at")
        return self


class System(Spec):
    """One sand system: its points, stock, muller, loop, feeders, targets and schedule."""

    label: str
    points: dict[str, Labelled]
    stock: Stock
    muller: Muller
    loop: Loop
    feeders: dict[str, Feeder] = {}
    targets: dict[str, Target] = {}
    schedule: dict[str, TestSet] = {}
