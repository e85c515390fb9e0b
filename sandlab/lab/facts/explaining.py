"""Answers about how an old result came about."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import Facts


class InputFacts(Facts):
    """One reading, or one other result of the sample, that a result was computed from."""

    label: str
    text: str
    unit: str
    repeat: int


class ExplainedFacts(Facts):
    """One result: what it was computed from, how, by which source, under which specs, and computed once more.

    `agrees` is None where there is nothing to compute: the value was typed as the instrument showed it.
    """

    property: str
    label: str
    revision: int
    text: str
    unit: str
    by: str
    recorded_at: datetime
    method: str
    method_label: str
    formula: str
    source: str
    constants: dict[str, str]
    inputs: tuple[InputFacts, ...]
    specs_hash: str
    specs_in_force: bool
    recomputed_text: str
    agrees: bool | None
    words: str


class ExplanationFacts(Facts):
    """The results of one sample explained."""

    sample: str
    taken_at: datetime
    point: str
    results: tuple[ExplainedFacts, ...]
