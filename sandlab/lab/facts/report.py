"""Answers of a shift report and of a monthly review."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from sandlab.lab.facts.balance import BooksFacts
from sandlab.lab.facts.base import Facts, ValueState
from sandlab.lab.facts.charts import EventFacts
from sandlab.lab.facts.shift import HandoverNoteFacts


class ReportResultFacts(Facts):
    """One property over the period: how many tests, their spread, how they stood to tolerance and limits.

    Each is judged by what was in force when it was taken: `aim` is that tolerance, or one after the other;
    `judged_by` says what it was where it is not today's throughout.
    """

    property: str
    label: str
    unit: str
    count: int
    low: float
    mean: float
    high: float
    low_text: str
    mean_text: str
    high_text: str
    aim: str
    outside: int
    past: int
    judged_by: str
    last_text: str
    last_at: datetime
    last_state: ValueState


class ReportSignalFacts(Facts):
    """Alarms of one chart that belong together, and what was written down about them afterwards."""

    property: str
    label: str
    at: datetime
    until: datetime
    count: int
    reason: str
    done: tuple[str, ...]


class ReportStepFacts(Facts):
    """One step of the reaction plan: taken by whom and when, or open."""

    step: str
    done_at: datetime | None
    done_by: str
    found: str


class ReportReactionFacts(Facts):
    """A run of values past a reaction limit: `back_at` is the first test inside again, if there was one."""

    property: str
    label: str
    at: datetime
    what: str
    back_at: datetime | None
    steps: tuple[ReportStepFacts, ...]
    open: bool


class ReportAdditionFacts(Facts):
    """One feeder over the period, kg per batch: as recommended, as set (overrides count), as made."""

    feeder: str
    label: str
    batches: int
    recommended_kg: float | None
    set_kg: float | None
    made_kg: float | None
    total_kg: float
    recommended_text: str
    set_text: str
    made_text: str
    difference_text: str
    total_text: str


class ReportCapabilityFacts(Facts):
    """How one property fitted its tolerance."""

    property: str
    label: str
    count: int
    outside: float
    cpk: float
    ppk: float
    ppk_low: float
    ppk_high: float


class ReportFacts(Facts):
    """What happened in a shift or a month; `words` says first what a reader has to know.

    `decisions` are releases, answers and frozen limits in words, `corrections` values changed afterwards;
    `charts` the properties that the pages draw.
    """

    kind: Literal["shift", "month"]
    plant: str
    system: str
    name: str
    since: datetime
    until: datetime
    made_at: datetime
    words: tuple[str, ...]
    results: tuple[ReportResultFacts, ...]
    signals: tuple[ReportSignalFacts, ...]
    reactions: tuple[ReportReactionFacts, ...]
    additions: tuple[ReportAdditionFacts, ...]
    decisions: tuple[str, ...]
    corrections: tuple[str, ...]
    notes: tuple[HandoverNoteFacts, ...]
    events: tuple[EventFacts, ...]
    capability: tuple[ReportCapabilityFacts, ...]
    books: BooksFacts | None
    charts: tuple[str, ...]


class ReportFileFacts(Facts):
    """A report that was written to a file."""

    file: str
    pages: int
    words: str
    report: ReportFacts
