"""What was measured: samples with their results, later values, remarks."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, model_validator

from sandlab.records.base import Count, Finite, Id, Name, Record


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


class Comment(Record):
    """A remark on a sample, or on one property of it; an empty `property` means the whole sample."""

    sample: Id
    property: Annotated[str, Field(max_length=80)] = ""
    text: Annotated[str, Field(min_length=1, max_length=500)]
