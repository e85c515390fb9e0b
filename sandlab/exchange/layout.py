"""A mapping laid on a sheet: every named column as an index, or all that does not fit, at once."""

from __future__ import annotations

import re
from collections.abc import Mapping as Table
from dataclasses import dataclass
from datetime import time as clock

from sandlab.errors import ImportRefused, Problem, nearest
from sandlab.exchange.grid import Sheet, column_index, letters
from sandlab.exchange.mapping import Block, Column, Place, SheetMap, is_long
from sandlab.exchange.targets import Ranged
from sandlab.quantities import DIMENSIONS, dimension_of


@dataclass(frozen=True, slots=True)
class Measured:
    """How one property is written: the unit in the file, and whether a typed zero means not tested."""

    property: str
    unit: str
    zero_means_not_tested: bool = False
    index: int = -1


@dataclass(frozen=True, slots=True)
class BlockLayout:
    """One block with column indexes; `wide` for a column a property, `by_text` for a long table."""

    point: str | None
    date: int
    time: int | None
    fixed_time: clock | None
    technician: int | None
    sampling_point: int | None
    note: int | None
    wide: tuple[Measured, ...]
    property: int | None
    value: int | None
    unit: int | None
    by_text: Table[str, Measured]


class _Heads:
    """The head texts of a sheet by column, and the problems met while looking for places in them."""

    def __init__(self, file: str, sheet: Sheet, rows: tuple[int, ...]) -> None:
        self.where = file if sheet.name == file else f"{file}, sheet {sheet.name}"
        width = max((len(cells) for cells in sheet.rows), default=0)
        self.texts = [[plain(sheet.text(row, column)) for row in rows] for column in range(width)]
        self.problems: list[Problem] = []

    def find(self, place: Place | None) -> int | None:
        """The column of a place; a problem is noted when the heads do not agree with it."""
        if place is None:
            return None
        if place.at is None:
            return self._by_head(place.head or "")
        index = column_index(place.at)
        found = self.texts[index] if index < len(self.texts) else []
        if place.head is not None and plain(place.head) not in found:
            head = " / ".join(text for text in found if text) or "nothing"
            self._problem(
                f"column {place.at} is headed '{head}', not '{place.head}'",
                "see whether a column was put in or taken out, and correct the mapping",
            )
        return index

    def _by_head(self, head: str) -> int | None:
        indexes = [index for index, texts in enumerate(self.texts) if plain(head) in texts]
        if len(indexes) == 1:
            return indexes[0]
        if indexes:
            places = " and ".join(letters(index) for index in indexes)
            self._problem(f"columns {places} are all headed '{head}'", "say which with at")
        else:
            known = sorted({text for texts in self.texts for text in texts if text})
            self._problem(f"no column is headed '{head}'", nearest(plain(head), known))
        return None

    def check_unit(self, index: int, unit: str) -> None:
        """A problem when the head of a column names another unit of the same dimension."""
        units = DIMENSIONS.get(dimension_of(unit) or "", ())
        words = re.split(r"[\s\[\]()|,;°]+", " ".join(self.texts[index])) if index < len(self.texts) else []
        named = [known for known in units if known.casefold() in words]
        if named and unit not in named:
            self._problem(
                f"column {letters(index)} is headed in {named[0]}, the mapping says {unit}",
                "correct the unit in the mapping",
            )

    def _problem(self, what: str, do: str) -> None:
        self.problems.append(Problem(self.where, what, do))


def own_columns(block: BlockLayout) -> tuple[int, ...]:
    """The columns whose content makes a row of a block worth reading."""
    single = (block.time, block.technician, block.note, block.property, block.value)
    return tuple(index for index in single if index is not None) + tuple(each.index for each in block.wide)


def plain(text: str) -> str:
    """A head as it is compared: lower case, one space between words."""
    return " ".join(text.split()).casefold()


def lay_out(
    file: str, sheet: Sheet, sheet_map: SheetMap, catalogue: Table[str, Ranged]
) -> tuple[BlockLayout, ...]:
    """The blocks of one sheet with their column indexes; raises ImportRefused with all that does not fit."""
    heads = _Heads(file, sheet, sheet_map.head_rows)
    date = heads.find(sheet_map.date)
    blocks = tuple(_block(heads, block, date, catalogue) for block in sheet_map.blocks.values())
    if heads.problems:
        raise ImportRefused(heads.problems)
    return blocks


def _block(heads: _Heads, block: Block, date: int | None, catalogue: Table[str, Ranged]) -> BlockLayout:
    own_date = heads.find(block.date)
    wide = () if is_long(block) else tuple(_wide(heads, block.columns, catalogue))
    return BlockLayout(
        point=block.point,
        date=(date if own_date is None else own_date) or 0,
        time=heads.find(block.time),
        fixed_time=clock.fromisoformat(block.fixed_time) if block.fixed_time else None,
        technician=heads.find(block.technician),
        sampling_point=heads.find(block.sampling_point),
        note=heads.find(block.note),
        wide=wide,
        property=heads.find(block.property),
        value=heads.find(block.value),
        unit=heads.find(block.unit),
        by_text=_by_text(block.columns, catalogue) if is_long(block) else {},
    )


def _wide(heads: _Heads, columns: Table[str, Column], catalogue: Table[str, Ranged]) -> list[Measured]:
    found = []
    for name, column in columns.items():
        index = heads.find(column)
        if index is not None:
            unit = column.unit or catalogue[name].unit
            heads.check_unit(index, unit)
            found.append(Measured(name, unit, column.zero_means_not_tested, index))
    return found


def _by_text(columns: Table[str, Column], catalogue: Table[str, Ranged]) -> dict[str, Measured]:
    """Long tables: what a property cell may say; the catalogue's own keys are always understood."""
    found = {plain(name): Measured(name, entry.unit) for name, entry in catalogue.items()}
    for name, column in columns.items():
        found[plain(column.text or name)] = Measured(
            name, column.unit or catalogue[name].unit, column.zero_means_not_tested
        )
    return found
