"""What an import would add, and every place of the file that is doubtful, refused or skipped."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from sandlab.records import Sample

Severity = Literal["doubtful", "refused", "skipped"]


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
    are rows that say again what an earlier row said. `not_measured` are cells that say so in words or, where
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


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """All that an import of `file` would add, in order of time; nothing has been saved."""

    file: str
    zone: ZoneInfo
    samples: tuple[Sample, ...]
    notes: tuple[RowNote, ...]
    counts: Counts


class Tally:
    """Collects notes and counts while a file is read."""

    def __init__(self) -> None:
        self.notes: list[RowNote] = []
        self.rows = 0
        self.duplicates = 0
        self.not_measured = 0

    def count(self, severity: Severity) -> int:
        """How many notes have this severity."""
        return sum(note.severity == severity for note in self.notes)
