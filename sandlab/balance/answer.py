"""What a recommendation says: kilograms with their parts, what binds, what it rests on, when to hold."""

from __future__ import annotations

from dataclasses import dataclass

CAUTION = (
    "Advice to a trained person, who decides under the site's rules: check it against the sand before "
    "you set it. It never drives the muller. Lock the muller out before opening it."
)


@dataclass(frozen=True, slots=True)
class Part:
    """One share of an addition: its name and kg as weighed; the parts of an addition add up to its kg."""

    name: str
    kg: float


@dataclass(frozen=True, slots=True)
class Addition:
    """One feeder's setting for the next batches.

    feeder, material, kind: ids and kind
    kg: recommended, as weighed, per batch
    change_kg: kg less what is set now
    ideal_kg: what would be set without limits, steps and resolution
    parts: for clay and carbon dilution, burn_out, correction, carried, held, limits; for water level,
        compactability, evaporation, return_sand, additions, held, limits
    binds: in words, the bound, step or resolution that keeps kg from ideal_kg
    held: True when the setting stays because the evidence is too weak to move it
    """

    feeder: str
    material: str
    kind: str
    kg: float
    change_kg: float
    ideal_kg: float
    parts: tuple[Part, ...]
    binds: tuple[str, ...]
    held: bool


@dataclass(frozen=True, slots=True)
class Miss:
    """A target the batch will not reach: by how much, and why."""

    property: str
    target: float
    expected: float
    tolerance: float
    because: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """The tests behind one number.

    value: what was used: the filtered value, or the start value when count is 0
    last: the newest result, None when there is none
    age_min: minutes since its sample was taken, None when there is none
    count: results used
    weak: empty, or why this evidence cannot move an addition
    """

    property: str
    value: float
    last: float | None
    age_min: float | None
    count: int
    weak: str
