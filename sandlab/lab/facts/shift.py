"""Answers about the change of shift: notes handed over, and who has read them."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import Facts


class HandoverNoteFacts(Facts):
    """One note for the next shift; `read_by` is empty until somebody else has taken it over."""

    note: str
    at: datetime
    by: str
    text: str
    read_at: datetime | None
    read_by: str
    words: str


class HandoverFacts(Facts):
    """The latest handover notes, newest first, and how many of them nobody has read yet."""

    now: datetime
    notes: tuple[HandoverNoteFacts, ...]
    unread: int
    words: str
