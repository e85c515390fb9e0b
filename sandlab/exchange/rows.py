"""Rows of a sheet as entries: who took sand where and when, and what was measured; doubts are tallied."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from sandlab.errors import nearest
from sandlab.exchange.grid import Sheet, letters
from sandlab.exchange.layout import BlockLayout, Measured, own_columns, plain
from sandlab.exchange.mapping import Mapping, SheetMap
from sandlab.exchange.notes import RowNote, Tally
from sandlab.exchange.origin import CellRefused, Row, names_by_text, taken_at, taken_by, taken_from
from sandlab.exchange.units import unit_named
from sandlab.exchange.values import NOT_MEASURED, Judged, judge
from sandlab.specs import Specs

COMPARE = "compare with the sheet on paper; correct it in the tool if it is wrong"


@dataclass(frozen=True, slots=True)
class Value:
    """One measured property of a row, in the catalogue's unit, and the cell it stands in."""

    property: str
    value: float
    censored: Literal["", "<", ">"]
    flags: tuple[str, ...]
    column: str
    text: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One row's part of a block: `when` is a wall-clock time, or an instant if the file states its offset.

    `notes` are on its cells; they go to the tally with the entry, and not with a row that adds nothing.
    """

    sheet: str
    row: int
    point: str
    when: datetime
    by: str
    remark: str
    values: tuple[Value, ...]
    notes: tuple[RowNote, ...]


class RowReader:
    """Reads the rows of one file by its mapping; what it cannot take goes to the tally."""

    def __init__(self, mapping: Mapping, specs: Specs, by: str, tally: Tally) -> None:
        self.mapping, self.specs, self.by, self.tally = mapping, specs, by, tally
        self._names = names_by_text(mapping)
        self._absent = {"", *(text.casefold() for text in mapping.not_measured)}
        # The same texts come back row after row: each is judged once.
        self._judged: dict[tuple[str, Measured], Judged] = {}

    def entries(self, sheet: Sheet, rows: SheetMap, blocks: tuple[BlockLayout, ...]) -> Iterator[Entry]:
        """Every entry of a sheet, row by row, block by block."""
        for row, block in self.filled(sheet, rows, blocks):
            entry = self._entry(row, block)
            if entry is not None:
                yield entry

    def filled(
        self, sheet: Sheet, rows: SheetMap, blocks: tuple[BlockLayout, ...]
    ) -> Iterator[tuple[Row, BlockLayout]]:
        """Every part of a row that holds something, with its block; rows to be skipped are tallied."""
        dates = [""] * len(blocks)
        own = [own_columns(block) for block in blocks]
        heads = [len(sheet.rows[row - 1]) for row in rows.head_rows if row <= len(sheet.rows)]
        width = max(heads, default=0)
        skip = tuple(text.casefold() for text in rows.skip_rows_with)
        for number in range(rows.first_row, min(rows.last_row or len(sheet.rows), len(sheet.rows)) + 1):
            if skip and self._skipped(sheet, number, skip):
                continue
            for index, block in enumerate(blocks):
                written = sheet.text(number, block.date)
                dates[index] = written or (dates[index] if rows.date_fill_down else "")
                row = Row(sheet, number, dates[index], width)
                if any(row.text(column) for column in own[index]):
                    self.tally.row()
                    yield row, block

    def _skipped(self, sheet: Sheet, number: int, skip: tuple[str, ...]) -> bool:
        for index, text in enumerate(sheet.rows[number - 1]):
            if text.casefold().startswith(skip):
                row = Row(sheet, number, "", 0)
                self.tally.notes.append(row.note("skipped", index, f"a row of '{text}'", ""))
                return True
        return False

    def _entry(self, row: Row, block: BlockLayout) -> Entry | None:
        """The entry of one row; when there is none its refused cells are tallied at once."""
        notes = list(_beyond_the_heads(row))
        values = tuple(self._values(row, block, notes))
        remark = row.text(block.note)
        try:
            if values:
                when = taken_at(row, block, self.mapping)
                point = taken_from(row, block, self.mapping, self.specs)
                by = self._by(row, block, notes)
                return Entry(row.sheet.name, row.number, point, when, by, remark, values, tuple(notes))
            if remark and block.note is not None:
                do = "write it in the tool as a note on the time line"
                notes.append(row.note("skipped", block.note, "a comment without a test", do))
        except CellRefused as error:
            what, place = f"{error.problem.what}: the row is left out", letters(error.index)
            refusal = RowNote(
                row.sheet.name, row.number, place, error.text, what, error.problem.do, "refused"
            )  # fmt: skip
            notes = [refusal, *(note for note in notes if note.severity == "refused")]
        self.tally.notes += notes
        return None

    def _by(self, row: Row, block: BlockLayout, notes: list[RowNote]) -> str:
        by, known = taken_by(row, block, self._names, self.by)
        if not known and block.technician is not None:
            do = "add the initials to technicians in the mapping"
            notes.append(row.note("doubtful", block.technician, f"nobody is known as '{by}'", do))
        return by

    def _values(self, row: Row, block: BlockLayout, notes: list[RowNote]) -> Iterator[Value]:
        """The values of a row; notes on the row as a whole flag each of them, notes on cells are added."""
        odd = tuple(note.what for note in notes)
        for measured, index in self._measured(row, block, notes):
            text = row.text(index)
            judged = self._judge(text, measured)
            if judged.problem is not None:
                notes.append(row.note("refused", index, judged.problem.what, judged.problem.do))
            elif judged.value is None:
                self.tally.not_measured += bool(text)
            else:
                if judged.doubt:
                    notes.append(row.note("doubtful", index, judged.doubt, COMPARE))
                flags = (*odd, judged.doubt) if judged.doubt else odd
                yield Value(measured.property, judged.value, judged.censored, flags, letters(index), text)

    def _measured(self, row: Row, block: BlockLayout, notes: list[RowNote]) -> Iterator[tuple[Measured, int]]:
        """What stands in which column of a row."""
        if block.property is None or block.value is None:
            for measured in block.wide:
                yield measured, measured.index
            return
        written = row.text(block.property)
        found = block.by_text.get(plain(written))
        if found is not None:
            unit = unit_named(row.text(block.unit)) or found.unit
            yield Measured(found.property, unit, found.zero_means_not_tested), block.value
        elif written:
            do = nearest(plain(written), list(block.by_text))
            notes.append(row.note("refused", block.property, f"'{written}' is not a known property", do))
        else:
            notes.append(row.note("refused", block.property, "no property is named", "write the property"))

    def _judge(self, text: str, measured: Measured) -> Judged:
        if not text:
            return NOT_MEASURED
        key = (text, measured)
        if key not in self._judged:
            entry = self.specs.properties[measured.property]
            marks = self.mapping.decimal_marks
            self._judged[key] = judge(text, measured, entry, marks=marks, absent=self._absent)
        return self._judged[key]


def _beyond_the_heads(row: Row) -> Iterator[RowNote]:
    """A note when a line of a text table is longer than its heads: a comma may have split a value."""
    cells = row.sheet.rows[row.number - 1]
    if row.width and any(cells[row.width :]):
        what = f"the row has {len(cells)} cells, the heads have {row.width}"
        yield row.note("doubtful", row.width, what, "see whether a separator stands inside a value")
