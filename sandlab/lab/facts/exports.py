"""Answers about files out: exports, evidence packs."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import Facts


class ExportFacts(Facts):
    """What was written, where, and how many rows of each kind."""

    place: str
    format: str
    since: datetime | None
    until: datetime | None
    rows: dict[str, int]
    words: str
