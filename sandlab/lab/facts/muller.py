"""Answers about additions: recommendations, and what the operator reads."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import Facts, MullerState


class AdditionFacts(Facts):
    """One material of a batch: kg, the change, and the parts the kg are made of."""

    feeder: str
    material: str
    label: str
    kg: float
    text: str
    decimals: int
    change_kg: float
    change_text: str
    parts_kg: dict[str, float]
    binds: str
    # half of the 90 % band of what is not known of the sand, in kg; None where nothing is steered
    band_kg: float | None = None
    band_text: str = ""


class EvidenceFacts(Facts):
    """A test that a recommendation rests on."""

    property: str
    label: str
    text: str
    unit: str
    at: datetime | None
    age_min: float | None
    words: str


class ExpectedFacts(Facts):
    """What the next batches should be with these additions, and half of its 90 % band."""

    property: str
    label: str
    text: str
    band_text: str
    unit: str


class AdviceFacts(Facts):
    """A recommendation: additions per batch, parts, what it rests on, and why, in one sentence."""

    recommendation: str
    at: datetime
    hold: bool
    sentence: str
    # the same as the muller operator reads it from across the shop
    brief: str = ""
    reasons: tuple[str, ...]
    additions: tuple[AdditionFacts, ...]
    evidence: tuple[EvidenceFacts, ...]
    expected: tuple[ExpectedFacts, ...] = ()
    # the window that was looked back on, and the start values it began with
    basis: str = ""
    released: bool
    advice_note: str


class MullerFacts(Facts):
    """What the muller operator reads: RUN, CHECK or HOLD, the released kg, since when, by whom, and why."""

    now: datetime
    system: str
    state: MullerState
    word: str
    sentence: str
    reasons: tuple[str, ...]
    call: str
    release: str | None
    released_at: datetime | None
    released_by: str
    acknowledged_at: datetime | None
    acknowledged_by: str
    overridden_by: str
    override_reason: str
    additions: tuple[AdditionFacts, ...]
    last_test_at: datetime | None
    next_test_words: str
    advice_note: str
