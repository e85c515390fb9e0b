"""What an import would add, and every place of the file that is doubtful, refused or skipped."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal
from zoneinfo import ZoneInfo

from sandlab.records import AnyRecord, Batch, Production, Receipt, Sample

BookRecord = Batch | Production | Receipt

Severity = Literal["doubtful", "refused", "conflict", "skipped"]
# What is being done, how much of it is done, and how much there is. It may raise to break off.
Tell = Callable[[str, int, int], None]


def quiet(_what: str, _done: int, _of: int) -> None:
    """Tells nobody."""


@dataclass(frozen=True, slots=True)
class RowNote:
    """One place that needs a person's eye: doubtful is imported and flagged, refused and skipped are not.

    `column` is spreadsheet letters, empty when the whole row is meant; `text` is what stands there.
    """

    sheet: str
    row: int
    column: str
    text: str
    what: str
    do: str
    severity: Severity


@dataclass(frozen=True, slots=True)
class Counts:
    """How much was read and what became of it.

    `rows` are rows with content, one for each block side by side. `samples` and `results` would be added,
    `censored` of the results carrying a < or >. `doubtful`, `refused` and `skipped` count notes. `duplicates`
    are rows that say again what an earlier row said. `records` are batches, production and receipts.
    `not_measured` are cells that say so in words or, where
    the mapping allows it, by a zero; blank cells are not counted.
    """

    rows: int
    samples: int
    results: int
    censored: int
    doubtful: int
    refused: int
    skipped: int
    duplicates: int
    not_measured: int
    records: int = 0


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """All that an import of `file` would add, in order of time; nothing has been saved.

    `places` are sheet and first row by the id of what stands there, `unread` the filled sheets that the
    mapping does not name.
    """

    file: str
    zone: ZoneInfo
    samples: tuple[Sample, ...]
    notes: tuple[RowNote, ...]
    counts: Counts
    records: tuple[AnyRecord, ...] = ()
    places: Mapping[str, tuple[str, int]] = field(default_factory=dict)
    unread: tuple[str, ...] = ()


class Tally:
    """Collects notes and counts while a file is read."""

    def __init__(self, tell: Tell = quiet) -> None:
        self.notes: list[RowNote] = []
        self.tell = tell
        self.expected = 0
        self.rows = 0
        self.duplicates = 0
        self.not_measured = 0

    def row(self) -> None:
        """One more row is read; tells how far it is every thousand."""
        self.rows += 1
        if self.rows % 1000 == 0:
            self.tell("reading rows", self.rows, max(self.rows, self.expected))

    def count(self, severity: Severity) -> int:
        """How many notes have this severity."""
        return sum(note.severity == severity for note in self.notes)
