"""Answers about tests: fields, what is due, results, samples."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import DueState, Facts, ValueState


class ReadingFacts(Facts):
    """One raw reading that a method asks for."""

    name: str
    label: str
    unit: str
    decimals: int
    low: float
    high: float


class TimedFacts(Facts):
    """A time that a method asks for: a span to wait for (`seconds`), or one to stop for a `reading`."""

    name: str
    label: str
    seconds: int | None
    reading: str


class MethodFacts(Facts):
    """One way of obtaining a property from raw readings, with its caution line."""

    method: str
    label: str
    caution: str
    repeats: int
    readings: tuple[ReadingFacts, ...]
    timed: tuple[TimedFacts, ...] = ()


class FieldFacts(Facts):
    """One field of the entry form: how to show it, what is expected, what was measured last."""

    property: str
    label: str
    short: str
    unit: str
    decimals: int
    impossible: tuple[float, float]
    doubtful: tuple[float, float]
    target: float | None
    tolerance: tuple[float, float] | None
    reaction: tuple[float, float] | None
    last_value: float | None
    last_text: str
    last_at: datetime | None
    methods: tuple[MethodFacts, ...]


class DueSetFacts(Facts):
    """One test set of the schedule and whether it is due, in words."""

    test_set: str
    label: str
    point: str
    point_label: str
    state: DueState
    due_at: datetime
    minutes_late: int
    words: str
    fields: tuple[FieldFacts, ...]


class DueFacts(Facts):
    """What is due now, most urgent first."""

    plant: str
    system: str
    time_zone: str
    decimal_mark: str
    now: datetime
    sets: tuple[DueSetFacts, ...]


class JudgementFacts(Facts):
    """What a typed value means, in words, before it is saved."""

    property: str
    state: ValueState
    value: float | None
    words: str
    needs_confirmation: bool


class ResultFacts(Facts):
    """One result as shown: `text` is rounded, `words` says what is to be known about it."""

    property: str
    label: str
    value: float | None
    text: str
    unit: str
    state: ValueState
    method: str
    censored: str
    revision: int
    flags: tuple[str, ...]


class CommentFacts(Facts):
    """A remark on a sample, or on one property of it."""

    property: str
    text: str
    by: str
    at: datetime


class SampleFacts(Facts):
    """One sample with its current results; `changes` tells by property what was corrected or taken back."""

    sample: str
    system: str
    point: str
    taken_at: datetime
    by: str
    source: str
    note: str
    results: tuple[ResultFacts, ...]
    changes: dict[str, str] = {}
    comments: tuple[CommentFacts, ...] = ()


class SavedFacts(Facts):
    """What saving a sample or a correction led to, a sentence per consequence, and the next thing to do."""

    sample: SampleFacts
    consequences: tuple[str, ...]
    next: str


class SheetFacts(Facts):
    """The latest samples, or those of one day, newest first; of a day `words` say how it went."""

    now: datetime
    samples: tuple[SampleFacts, ...]
    words: str = ""
