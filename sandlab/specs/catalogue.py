"""The catalogue's tables: properties, methods, materials, reactions, sources."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from sandlab.errors import nearest
from sandlab.quantities import DIMENSIONS, PLAIN_UNITS

Pair = tuple[float, float]
NonNegative = Annotated[float, Field(ge=0.0)]
Positive = Annotated[float, Field(gt=0.0)]
_UNITS = (*PLAIN_UNITS, *(unit for units in DIMENSIONS.values() for unit in units))


class Spec(BaseModel):
    """Base of all spec tables: frozen, and a key it does not know is a mistake."""

    model_config = ConfigDict(frozen=True, extra="forbid")


def rising(pair: Pair) -> Pair:
    """The pair itself when its low end is below its high end."""
    if not pair[0] < pair[1]:
        raise ValueError(f"low {pair[0]} is not below high {pair[1]}")
    return pair


class Property(Spec):
    """One entry of the catalogue."""

    label: str
    short: str
    unit: str
    decimals: Annotated[int, Field(ge=0, le=6)]
    impossible: Pair
    doubtful: Pair
    resolution: Positive
    chart: Literal["individuals", "none"]
    source: str
    # Other words that the heads of a laboratory's sheets may say.
    also: tuple[str, ...] = ()
    # The rules looked for and alarming on this property's chart; without it all are shown and only a point
    # beyond a limit alarms.
    rules: Annotated[tuple[str, ...], Field(min_length=1)] | None = None

    @field_validator("unit")
    @classmethod
    def _known_unit(cls, unit: str) -> str:
        if unit not in _UNITS:
            raise ValueError(f"'{unit}' is not a known unit; {nearest(unit, _UNITS)}")
        return unit

    @field_validator("impossible", "doubtful")
    @classmethod
    def _rising_pair(cls, pair: Pair) -> Pair:
        return rising(pair)

    @model_validator(mode="after")
    def _doubtful_inside_impossible(self) -> Property:
        if self.doubtful[0] < self.impossible[0] or self.doubtful[1] > self.impossible[1]:
            raise ValueError("the doubtful range reaches outside the impossible range")
        return self


class ReadingSpec(Spec):
    """One raw reading of a method, in the order of the form."""

    label: str
    unit: str
    decimals: Annotated[int, Field(ge=0, le=6)]
    low: float
    high: float


class Repeats(Spec):
    """How repeats of one test are combined, and when they disagree."""

    count: Annotated[int, Field(ge=1, le=20)]
    rule: Literal["mean", "median"] = "mean"
    agree_within: NonNegative
    relative: bool = False


class Timed(Spec):
    """A time that a method asks for: a span to wait for (`seconds`), or one to stop for a `reading`."""

    label: str
    seconds: Annotated[int, Field(ge=1, le=86400)] | None = None
    reading: str = ""
    source: str = "common_practice"
    place: str = ""

    @model_validator(mode="after")
    def _waits_or_stops(self) -> Timed:
        if (self.seconds is None) == (not self.reading):
            raise ValueError("give either seconds to wait or the reading that is stopped")
        return self


class Method(Spec):
    """One way of obtaining a property: from readings, or from other results."""

    label: str
    property: str
    function: str
    source: str
    place: str = ""
    caution: str = ""
    readings: dict[str, ReadingSpec] = {}
    derived_from: dict[str, str] = {}
    # input -> the methods by which it may have been obtained; "" stands for a value typed without readings
    from_methods: dict[str, tuple[str, ...]] = {}
    constants: dict[str, Any] = {}
    repeats: Repeats | None = None
    timed: dict[str, Timed] = {}

    @model_validator(mode="after")
    def _stops_its_own_readings(self) -> Method:
        for key, entry in self.timed.items():
            if entry.reading and entry.reading not in self.readings:
                raise ValueError(
                    f"timed.{key}: '{entry.reading}' is not one of its readings; "
                    f"{nearest(entry.reading, list(self.readings))}"
                )
        return self

    @model_validator(mode="after")
    def _has_input(self) -> Method:
        if bool(self.readings) == bool(self.derived_from):
            raise ValueError("give either readings or derived_from")
        return self


class Material(Spec):
    """What goes into a batch; moisture in % of moist, assay in % of dry, temperature in C."""

    label: str
    kind: Literal["clay", "carbon", "premix", "new_sand", "dust", "water"]
    unit: Literal["kg"] = "kg"
    moisture: Annotated[float, Field(ge=0.0, le=100.0)]
    temperature: float = 20.0
    cost_per_t: NonNegative = 0.0
    source: str = "common_practice"
    assay: dict[Literal["active_clay", "volatiles", "fixed_carbon", "inert_fines"], NonNegative] = {}


class Reaction(Spec):
    """First steps after a signal, who takes them, by when, and whether the muller holds."""

    property: str
    signal: Literal["past_reaction_low", "past_reaction_high", "above_limit", "below_limit"]
    steps: tuple[str, ...] = Field(min_length=1)
    who: str
    within_min: Annotated[int, Field(ge=1)]
    hold: bool = False
    call: str = ""


class Source(Spec):
    """One publication."""

    title: str
    author: str = ""
    year: int | None = None
    place: str = ""
    note: str = ""
