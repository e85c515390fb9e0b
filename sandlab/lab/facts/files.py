"""Answers about files: imports and spec files."""

from __future__ import annotations

from typing import Literal

from sandlab.lab.facts.base import Facts


class ProblemFacts(Facts):
    """One problem: where, what, what to do."""

    where: str
    what: str
    do: str


class NoteFacts(Facts):
    """One doubtful, refused or skipped place of an imported file."""

    sheet: str
    row: int
    column: str
    text: str
    what: str
    do: str
    severity: Literal["doubtful", "refused", "conflict", "skipped"]


class GuessFacts(Facts):
    """What a proposed mapping takes one column for; an empty `means` is a column that is not used."""

    sheet: str
    column: str
    head: str
    means: str
    confidence: float
    word: str
    reason: str


class ImportFacts(Facts):
    """What an import would add (dry run) or has added.

    `guesses` and `questions` belong to a mapping that has just been proposed and kept.
    """

    file: str
    committed: bool
    mapping: str
    proposed: bool
    guesses: tuple[GuessFacts, ...]
    questions: tuple[ProblemFacts, ...]
    counts: dict[str, int]
    added: int
    already_known: int
    conflicts: int
    notes: tuple[NoteFacts, ...]
    report: tuple[str, ...]
    words: str


class CheckFacts(Facts):
    """Every problem of a plant's spec files."""

    folder: str
    ok: bool
    problems: tuple[ProblemFacts, ...]
