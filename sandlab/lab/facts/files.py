"""Answers about files: imports and spec files."""

from __future__ import annotations

from typing import Literal

from sandlab.lab.facts.base import Facts


class NoteFacts(Facts):
    """One doubtful, refused or skipped place of an imported file."""

    sheet: str
    row: int
    column: str
    text: str
    what: str
    do: str
    severity: Literal["doubtful", "refused", "skipped"]


class ImportFacts(Facts):
    """What an import would add (dry run) or has added."""

    file: str
    committed: bool
    counts: dict[str, int]
    already_known: int
    notes: tuple[NoteFacts, ...]
    report: tuple[str, ...]
    words: str


class ProblemFacts(Facts):
    """One problem: where, what, what to do."""

    where: str
    what: str
    do: str


class CheckFacts(Facts):
    """Every problem of a plant's spec files."""

    folder: str
    ok: bool
    problems: tuple[ProblemFacts, ...]
