"""Where, when and by whom the sand of one row was taken."""

from __future__ import annotations

from collections.abc import Callable
from collections.abc import Mapping as Table
from dataclasses import dataclass
from datetime import datetime

from sandlab.errors import InputError, Problem, nearest
from sandlab.exchange.grid import Sheet, letters
from sandlab.exchange.layout import BlockLayout
from sandlab.exchange.mapping import Mapping
from sandlab.exchange.moments import Stamp, read_date, read_time
from sandlab.exchange.notes import RowNote, Severity
from sandlab.specs import Specs

LONGEST_NAME = 80


class CellRefused(Exception):  # noqa: N818 - reads as what happened
    """One cell without which its row cannot be taken; becomes a note."""

    def __init__(self, index: int, text: str, problem: Problem) -> None:
        super().__init__(str(problem))
        self.index, self.text, self.problem = index, text, problem


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a sheet, the date that holds for it (its own or one above), the width of the heads."""

    sheet: Sheet
    number: int
    date: str
    width: int

    def text(self, index: int | None) -> str:
        """The text in a column; empty when there is no such column."""
        return "" if index is None else self.sheet.text(self.number, index)

    def note(self, severity: Severity, index: int, what: str, do: str) -> RowNote:
        """A note on the cell in a column."""
        text = self.text(index)
        return RowNote(self.sheet.name, self.number, letters(index), text, what, do, severity)


def taken_at(row: Row, block: BlockLayout, mapping: Mapping) -> datetime:
    """The wall-clock time of a row, or an instant when the file states its offset; raises CellRefused."""
    stamp = _read(read_date, row.date, mapping.dates, block.date, "the row has no date")
    clock = stamp.clock
    if block.time is not None:
        written = row.text(block.time)
        timed = _read(read_time, written, mapping.times, block.time, "the row has no time")
        if timed.day not in (None, stamp.day):
            problem = Problem("time", f"the time is of another day than '{row.date}'", "correct one of them")
            raise CellRefused(block.time, written, problem)
        stamp, clock = (timed if timed.aware else stamp), timed.clock
    elif block.fixed_time is not None:
        clock = block.fixed_time
    elif stamp.aware is not None:
        return stamp.aware
    if clock is None or stamp.day is None:
        problem = Problem("date", "there is no time of day", "add time or fixed_time to the mapping")
        raise CellRefused(block.date, row.date, problem)
    return datetime.combine(stamp.day, clock)


def _read(
    reader: Callable[[str, tuple[str, ...]], Stamp],
    text: str,
    patterns: tuple[str, ...],
    index: int,
    absent: str,
) -> Stamp:
    if not text:
        raise CellRefused(index, text, Problem("", absent, "write it"))
    try:
        return reader(text, patterns)
    except InputError as error:
        raise CellRefused(index, text, error.problems[0]) from error


def taken_from(row: Row, block: BlockLayout, mapping: Mapping, specs: Specs) -> str:
    """The sampling point of a row; raises CellRefused when the file names one that is not known."""
    text = row.text(block.sampling_point)
    if not text or block.sampling_point is None:
        return block.point or mapping.point
    points = specs.systems[mapping.system].points
    point = mapping.sampling_points.get(text, text)
    if point not in points:
        names = [*mapping.sampling_points, *points]
        problem = Problem("point", f"'{text}' is not a known sampling point", nearest(text, names))
        raise CellRefused(block.sampling_point, text, problem)
    return point


def names_by_text(mapping: Mapping) -> dict[str, str]:
    """What a technician cell may say, folded: the initials of the mapping, or the names themselves."""
    names = {name.casefold(): name for name in mapping.technicians.values()}
    return names | {initials.casefold(): name for initials, name in mapping.technicians.items()}


def taken_by(row: Row, block: BlockLayout, names: Table[str, str], default: str) -> tuple[str, bool]:
    """Who took the sand, and whether that is known: without a table every name is, and so is `default`."""
    text = row.text(block.technician)
    if not text:
        return default, True
    folded = text.casefold()
    return names.get(folded, text[:LONGEST_NAME]), folded in names or not names
