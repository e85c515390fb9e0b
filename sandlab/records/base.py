"""What every record carries, and the kinds of number and name that records are made of."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import Annotated

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
