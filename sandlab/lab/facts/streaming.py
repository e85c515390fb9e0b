"""One line of `advise --stream`: what has become known, in; a recommendation, out. Units are the catalogue's.

Times are ISO 8601 with an offset; without one they are read by the plant's wall clock.
"""

from __future__ import annotations

import math
from datetime import datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, RootModel

from sandlab.lab.facts.base import Facts
from sandlab.lab.facts.files import ProblemFacts


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError("not a finite number")
    return value


Number = Annotated[float, AfterValidator(_finite)]


class Line(BaseModel):
    """A line of the stream; a key that is not known is a mistake."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class ProductionLine(Line):
    """What was poured between `at` and `until`: metal and core sand in t, dry sand per metal in kg/kg."""

    kind: Literal["production"]
    at: str
    until: str
    known: str | None = None
    job: str
    metal_t: Number
    sand_to_metal: Number
    core_sand_t: Number = 0.0


class ReceiptLine(Line):
    """A lot that is fed from `at` on: assay in % of dry material, moisture in % of the moist one."""

    kind: Literal["receipt"]
    at: str
    known: str | None = None
    material: str
    lot: str = ""
    kg: Number = 0.0
    assay: dict[str, Number] = {}
    moisture: Number | None = None


class BatchLine(Line):
    """A batch as made: kg by feeder, moist return sand in kg, belt probes in % and C."""

    kind: Literal["batch"]
    at: str
    known: str | None = None
    added_kg: dict[str, Number]
    return_sand_kg: Number | None = None
    probe_moisture: Number | None = None
    probe_temperature: Number | None = None


class ResultLine(Line):
    """A test result: when its sand was taken, when it was known, value in the catalogue's unit."""

    kind: Literal["result"]
    property: str
    value: Number
    taken: str
    known: str
    doubtful: bool = False


class ProbeLine(Line):
    """The belt probes read between batches: moisture in %, temperature in C."""

    kind: Literal["probe"]
    at: str
    moisture: Number | None = None
    temperature: Number | None = None


class StockLine(Line):
    """What is really in the silo of a material, kg."""

    kind: Literal["stock"]
    at: str
    material: str
    kg: Number


class WeighedLine(Line):
    """A feeder weighed out: what it showed and what came, kg."""

    kind: Literal["weighed"]
    at: str
    feeder: str
    shown_kg: Number
    weighed_kg: Number


class SetLine(Line):
    """What a person set the feeders to, kg by feeder."""

    kind: Literal["set"]
    at: str
    added_kg: dict[str, Number]


class JobLine(Line):
    """A job of the coming hours."""

    at: str
    until: str
    job: str
    sand_to_metal: Number
    core_sand_t_per_t: Number = 0.0


class DueLine(Line):
    """An advice is due: the jobs planned, and what the belt probes show now."""

    kind: Literal["advice_due"]
    at: str
    jobs: tuple[JobLine, ...] = Field(default=(), strict=False)
    probe_moisture: Number | None = None
    probe_temperature: Number | None = None


AnyLine = (
    ProductionLine
    | ReceiptLine
    | BatchLine
    | ResultLine
    | ProbeLine
    | StockLine
    | WeighedLine
    | SetLine
    | DueLine
)


class StreamLine(RootModel[Annotated[AnyLine, Field(discriminator="kind")]]):
    """Any line of the stream; `kind` says which."""

    model_config = ConfigDict(frozen=True)


class StreamedEstimate(Facts):
    """An estimated quantity and its standard deviation, in the catalogue's unit."""

    value: float
    sd: float


class StreamedDose(Facts):
    """One feeder's setting, kg per batch as weighed; `sd_kg` is None where nothing is steered."""

    feeder: str
    material: str
    kg: float
    change_kg: float
    ideal_kg: float
    sd_kg: float | None
    parts_kg: dict[str, float]
    binds: tuple[str, ...]
    held: bool


class StreamedMiss(Facts):
    """A target that is not reached, the best that is reached, and what binds."""

    property: str
    target: float
    expected: float
    tolerance: float
    because: str


class StreamedEvidence(Facts):
    """The tests behind one number."""

    property: str
    value: float
    last: float | None
    age_min: float | None
    count: int
    weak: str


class StreamedFacts(Facts):
    """The answer to an advice that was due at line `line` of the stream.

    at, age_min: when it was computed and how old it is then: above 0 when nothing could be computed and the
    last good one stays in force
    problems: lines since the last answer that were left out or look wrong
    """

    line: int
    at: datetime
    age_min: float
    additions: tuple[StreamedDose, ...]
    prepared: dict[str, StreamedEstimate]
    returned: dict[str, StreamedEstimate]
    moisture: StreamedEstimate | None
    compactability: StreamedEstimate | None
    misses: tuple[StreamedMiss, ...]
    rests_on: tuple[StreamedEvidence, ...]
    flags: tuple[str, ...]
    void_if: tuple[str, ...]
    reason: str
    hold: bool
    hold_reason: str
    problems: tuple[ProblemFacts, ...]
    advice_note: str
