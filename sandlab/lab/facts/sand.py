"""Answers about what the sand went through: plant values that were accepted, what was written down."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import Facts


class AcceptedValueFacts(Facts):
    """One accepted plant value beside the one it replaces; `before` is None where there was none."""

    name: str
    unit: str
    value: float
    text: str
    before: float | None
    before_text: str


class AcceptedFacts(Facts):
    """Plant values that the balance starts from: who accepted them, when, from which window and why."""

    at: datetime
    by: str
    reason: str
    window_from: datetime
    window_to: datetime
    values: tuple[AcceptedValueFacts, ...]


class BatchFacts(Facts):
    """A batch that was logged: kg as weighed by feeder, and the recommendation that was in force, if any."""

    batch: str
    number: int
    at: datetime
    by: str
    return_sand_kg: float
    added_kg: dict[str, float]
    recommendation: str | None
    text: str


class WrittenFacts(Facts):
    """Something that was written down about the sand, in one sentence, and what looks doubtful about it."""

    record: str
    at: datetime
    by: str
    text: str
    doubts: tuple[str, ...]
