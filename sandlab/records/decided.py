"""What was decided and said: notes, chart limits, recommendations, releases and what people did with them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, model_validator

from sandlab.records.base import Finite, Id, Name, Record


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


class StepDone(Record):
    """A step of the reaction plan was taken after a sample; `reason` may say what was found."""

    sample: Id
    property: Name
    signal: Name
    step: Annotated[str, Field(min_length=1)]
