"""What was measured, decided and added: frozen records, each made once and never changed.

A correction is a new record that names the old one (`revises`), with who, when and why; a void is a
revision without content (`voided`) and with a reason. Times are aware UTC; ids are uuid4 text made by the
caller, so that other terminals and imports can make them.
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field, model_validator


def _utc_microseconds(moment: datetime) -> int:
    """Whole microseconds since 1970-01-01 UTC, without passing through a float."""
    epoch = datetime.fromisoformat("1970-01-01T00:00:00+00:00")
    return (moment - epoch) // timedelta(microseconds=1)


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError("not a finite number")
    return value


Finite = Annotated[float, AfterValidator(_finite)]
Name = Annotated[str, Field(min_length=1, max_length=80)]
Id = Annotated[str, Field(min_length=36, max_length=36)]
# Counts fit the whole numbers that every database keeps.
Count = Annotated[int, Field(ge=0, le=2**31 - 1)]


class Record(BaseModel):
    """What every record carries: identity, sand system, when it happened, who wrote it, what it revises."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: Id
    system: Name
    at: AwareDatetime
    by: Name
    recorded_at: AwareDatetime
    revises: Id | None = None
    reason: str = ""
    voided: bool = False

    @model_validator(mode="after")
    def _revision_has_reason(self) -> Record:
        if (self.revises or self.voided) and not self.reason.strip():
            raise ValueError("a correction or void needs a reason")
        if self.voided and not self.revises:
            raise ValueError("a void names the record it voids")
        return self

    @property
    def at_us(self) -> int:
        """`at` as UTC microseconds."""
        return _utc_microseconds(self.at)


class Reading(BaseModel):
    """One raw reading of one repeat, or the text of a censored value."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Name
    value: Finite
    repeat: int = Field(default=1, ge=1, le=1000)


class Result(BaseModel):
    """One property of a sample: value in the catalogue's unit, how it was obtained, and any doubt about it.

    `method` is empty for a value typed as the instrument shows it. `value` is None only in a void. `revision`
    is told by the store: 0 for the value first saved.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    property: Name
    value: Finite | None
    method: str = ""
    censored: Literal["", "<", ">"] = ""
    flags: tuple[str, ...] = ()
    readings: tuple[Reading, ...] = ()
    known_at: AwareDatetime | None = None
    revision: int = Field(default=0, ge=0)


class Sample(Record):
    """Sand taken at one point at one time (`at`), with the results known when it was saved."""

    point: Name
    specs_hash: str
    source: Literal["typed", "import", "simulated"] = "typed"
    note: str = ""
    results: tuple[Result, ...] = ()

    @model_validator(mode="after")
    def _one_value_of_each(self) -> Sample:
        properties = [result.property for result in self.results]
        if len(set(properties)) < len(properties):
            raise ValueError("a property stands twice in one sample")
        if any(result.value is None for result in self.results):
            raise ValueError("a result of a new sample has a value; what was not measured is left out")
        if self.voided and self.results:
            raise ValueError("a voided sample has no results")
        return self


class Amendment(Record):
    """A later result for a sample, a corrected one, or a void; `at` is the sample's own time.

    Revision 0 is the first value of a property (those saved with the sample, or a late one); a correction is
    the next number. The store refuses a revision that does not follow the last one, so that two people
    cannot correct the same value unseen.
    """

    sample: Id
    point: Name
    revision: Count
    specs_hash: str
    result: Result

    @model_validator(mode="before")
    @classmethod
    def _result_tells_the_revision(cls, data: Any) -> Any:
        if isinstance(data, dict) and isinstance(result := data.get("result"), Result):
            return data | {"result": result.model_copy(update={"revision": data.get("revision", 0)})}
        return data

    @model_validator(mode="after")
    def _correction_has_reason(self) -> Amendment:
        if self.revision and not self.reason.strip():
            raise ValueError("a correction needs a reason")
        if self.result.value is None and not self.revision:
            raise ValueError("only a correction can void a value: the first revision has one")
        return self


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


class Event(Record):
    """A note on the time line."""

    kind: Literal["note", "supplier", "maintenance", "stop", "handover"] = "note"
    text: Annotated[str, Field(min_length=1)]


class Baseline(Record):
    """Frozen chart limits of one property: the window they came from, who froze them and why."""

    property: Name
    point: Name
    window_from: AwareDatetime
    window_to: AwareDatetime
    count: int = Field(ge=2, le=2**31 - 1)
    centre: Finite
    sigma: Finite
    sigma_moving_range: Finite
    lag1: Finite
    width: Finite = 3.0
    excluded: tuple[Id, ...] = ()


class Recommendation(Record):
    """Additions per batch as computed; `detail` is the whole answer as JSON text."""

    specs_hash: str
    added_kg: dict[str, Annotated[Finite, Field(ge=0)]]
    hold: bool = False
    sentence: str
    rests_on: tuple[Id, ...] = ()
    detail: str = "{}"


class Release(Record):
    """A technician lets the muller see a recommendation, with the kg as released."""

    recommendation: Id
    added_kg: dict[str, Annotated[Finite, Field(ge=0)]]


class Acknowledgement(Record):
    """The muller operator has set the released additions."""

    release: Id


class Override(Record):
    """The muller operator runs other kg than released; `reason` says why."""

    release: Id
    added_kg: dict[str, Annotated[Finite, Field(ge=0)]]

    @model_validator(mode="after")
    def _has_reason(self) -> Override:
        if not self.reason.strip():
            raise ValueError("an override needs a reason")
        return self


class NoteRead(Record):
    """Somebody of the next shift has read a handover note (an `Event` of that kind)."""

    note: Id


class Comment(Record):
    """A remark on a sample, or on one property of it; an empty `property` means the whole sample."""

    sample: Id
    property: Annotated[str, Field(max_length=80)] = ""
    text: Annotated[str, Field(min_length=1, max_length=500)]


class StepDone(Record):
    """A step of the reaction plan was taken after a sample; `reason` may say what was found."""

    sample: Id
    property: Name
    signal: Name
    step: Annotated[str, Field(min_length=1)]


AnyRecord = (
    Sample
    | Amendment
    | Batch
    | Receipt
    | Production
    | Event
    | Baseline
    | Recommendation
    | Release
    | Acknowledgement
    | Override
    | NoteRead
    | Comment
    | StepDone
)
