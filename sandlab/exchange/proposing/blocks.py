"""Columns into blocks: which belong to one row of tests, and which repeat it for another shift beside it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from sandlab.exchange.proposing.meaning import Meaning

_HOUR = re.compile(r"\b([01]?\d|2[0-3])(?:[:.]?([0-5]\d))?\s*(?:-|to|–)\s*\d")
# Roles that may stand once for all blocks of a row.
SHARED = ("date", "time", "technician", "note", "sampling_point")


@dataclass(slots=True)
class Part:
    """One block: what stands in which column, and the head that its columns share."""

    group: str = ""
    columns: dict[str, Meaning] = field(default_factory=dict)

    @property
    def targets(self) -> list[Meaning]:
        """Its columns that hold values."""
        return [one for one in self.columns.values() if one.target is not None]

    @property
    def hour(self) -> str:
        """The hour that a shift's head begins with, as "06:00"; empty when it names none."""
        found = _HOUR.search(self.group)
        return f"{int(found[1]):02d}:{found[2] or '00'}" if found else ""


def blocks_of(meanings: Sequence[Meaning]) -> tuple[list[Part], list[Meaning]]:
    """The blocks of a sheet from left to right, and the columns that repeat something for no reason seen."""
    parts = [Part()]
    for segment in _segments(meanings):
        if any(one.name in parts[-1].columns for one in segment):
            parts.append(Part())
        for one in segment:
            if one.name in parts[-1].columns:
                parts.append(Part())
            parts[-1].columns[one.name] = one
            if one.target is not None:
                parts[-1].group = parts[-1].group or one.heading.group
    kept = [part for part in parts if part.targets or "value" in part.columns]
    for part in parts:
        if part not in kept and kept:
            # Columns of a row as a whole, such as remarks behind the last shift, go with the first block.
            for name, one in part.columns.items():
                kept[0].columns.setdefault(name, one)
    return _told_apart(kept)


def _segments(meanings: Iterable[Meaning]) -> list[list[Meaning]]:
    """Neighbouring columns with the same shared head; a column without a head parts too."""
    found: list[list[Meaning]] = [[]]
    before: str | None = None
    for one in meanings:
        if not one.heading.head and not one.heading.cells:
            before = None
        if one.name:
            if one.heading.group != before:
                found.append([])
            found[-1].append(one)
            before = one.heading.group
    return [segment for segment in found if segment]


def _told_apart(parts: list[Part]) -> tuple[list[Part], list[Meaning]]:
    """Blocks that differ in time or place; what else repeats is handed back."""
    kept: list[Part] = []
    repeated: list[Meaning] = []
    for part in parts:
        own = "time" in part.columns or "date" in part.columns or "sampling_point" in part.columns
        if not kept or own or (part.group and part.group not in [other.group for other in kept]):
            kept.append(part)
        else:
            repeated += part.targets
    return kept, repeated
