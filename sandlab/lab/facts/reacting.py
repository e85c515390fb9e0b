"""Answers about the reaction plan: which steps are due, by when, and who has done them."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import Facts


class StepFacts(Facts):
    """One step of the reaction plan that a result or a chart calls for; `number` names it in a command."""

    number: int
    property: str
    label: str
    signal: str
    reason: str
    step: str
    who: str
    sample: str
    since: datetime
    due_at: datetime
    minutes_late: int
    done_at: datetime | None
    done_by: str
    found: str
    words: str


class StepsFacts(Facts):
    """The steps called for now, the most urgent first, and how many of them are open."""

    now: datetime
    steps: tuple[StepFacts, ...]
    open: int
    words: str


class AttentionFacts(Facts):
    """What the first screen points to: an empty plant, notes to read, steps to take, the gravest chart."""

    empty: bool
    unread: int
    open_steps: int
    next_step: str
    chart: str
    chart_state: str
    chart_words: str
    charts: int
