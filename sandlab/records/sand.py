"""What the sand went through and what went into it: batches, lots, jobs, probes, feeders, plant values."""

from __future__ import annotations

from typing import Annotated

from pydantic import AwareDatetime, Field, model_validator

from sandlab.records.base import Count, Finite, Id, Name, Record


class Batch(Record):
    """One muller batch as made: actual kg per material, and moist return sand charged."""

    number: Count
    return_sand_kg: Annotated[Finite, Field(ge=0)]
    added_kg: dict[str, Annotated[Finite, Field(ge=0)]]
    recommendation: Id | None = None


class Receipt(Record):
    """A delivery of material, with the assay on its certificate where there is one."""

    material: Name
    lot: str
    kg: Annotated[Finite, Field(ge=0)]
    assay: dict[str, Finite] = {}


class Production(Record):
    """What was poured between `at` and `until`: metal, sand in the moulds, core sand."""

    until: AwareDatetime
    job: str
    metal_t: Annotated[Finite, Field(ge=0)]
    sand_to_metal: Annotated[Finite, Field(ge=0)]
    core_sand_t: Annotated[Finite, Field(ge=0)]


class PlannedJob(Record):
    """A job of the schedule from `at` to `until`, before it is poured: sand and core sand per metal."""

    until: AwareDatetime
    job: Name
    sand_to_metal: Annotated[Finite, Field(gt=0)]
    core_sand_t_per_t: Annotated[Finite, Field(ge=0)]


class BeltReading(Record):
    """What the probes on the belt before the muller showed of the return sand at `at`."""

    moisture: Finite | None = None
    temperature: Finite | None = None


class StockCount(Record):
    """What was really in the silo of a material at `at`."""

    material: Name
    kg: Annotated[Finite, Field(ge=0)]


class FeederCheck(Record):
    """A feeder weighed out: kg that it showed and kg that came."""

    feeder: Name
    shown_kg: Annotated[Finite, Field(gt=0)]
    weighed_kg: Annotated[Finite, Field(ge=0)]


class PlantValues(Record):
    """Plant values that a person accepted from a window of the history; the balance starts from them.

    `values` holds value names as in the loop of the specs; `sd` how sure the window made them.
    """

    values: dict[str, Finite]
    sd: dict[str, Annotated[Finite, Field(ge=0)]] = {}
    window_from: AwareDatetime
    window_to: AwareDatetime

    @model_validator(mode="after")
    def _has_reason_and_window(self) -> PlantValues:
        if not self.reason.strip():
            raise ValueError("accepted plant values need a reason")
        if self.window_to <= self.window_from:
            raise ValueError("the window ends before it begins")
        return self
