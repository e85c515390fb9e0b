"""Answers about files out: exports, evidence packs."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import Facts
from sandlab.lab.facts.files import ProblemFacts


class ExportFacts(Facts):
    """What was written, where, and how many rows of each kind."""

    place: str
    format: str
    since: datetime | None
    until: datetime | None
    rows: dict[str, int]
    words: str


class PackFacts(Facts):
    """An evidence pack, written or checked: its rows, the last link of its chain, what does not fit."""

    place: str
    files: int
    rows: dict[str, int]
    chain: str
    ok: bool
    problems: tuple[ProblemFacts, ...]
    words: str
