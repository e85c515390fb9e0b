"""Where in a sheet the table stands: its head rows, its first row of data, its columns with their heads."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from sandlab.errors import InputError
from sandlab.exchange.grid import Sheet
from sandlab.exchange.proposing.dates import is_date
from sandlab.exchange.proposing.heads import ROLES, best_phrase, is_summary
from sandlab.exchange.proposing.numbers import LOOKED_AT
from sandlab.exchange.units import is_unit
from sandlab.quantities import parse_number

HEADS_WITHIN = 60
LEAST_LIKENESS = 0.6
_LONGEST_HEAD = 60


@dataclass(frozen=True, slots=True)
class Heading:
    """One column: its head, the head above it that it shares with its neighbours, and its first cells."""

    index: int
    head: str
    group: str
    texts: tuple[str, ...]
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """The table of one sheet; rows count from 1."""

    sheet: Sheet
    head_rows: tuple[int, ...]
    first_row: int
    columns: tuple[Heading, ...]


def find_table(sheet: Sheet, phrases: Collection[str]) -> Table | None:
    """The table whose heads are most like the phrases; None when no row has two such heads."""
    scores = {
        row: sum(_is_head(text, phrases) for text in sheet.rows[row - 1])
        for row in range(1, min(len(sheet.rows), HEADS_WITHIN) + 1)
    }
    main = max(scores, key=lambda row: (scores[row], -row), default=0)
    if not main or scores[main] < 2:
        return None
    rows = _head_rows(sheet, main)
    first = _first_row(sheet, rows[-1] + 1)
    width = max(len(cells) for cells in sheet.rows)
    group = _groups(sheet, rows[0], width) if rows[0] < main else [""] * width
    data = [row for row in range(first, len(sheet.rows) + 1) if not is_summary(_first_text(sheet, row))]
    columns = tuple(_heading(sheet, index, main, rows, data, group[index]) for index in range(width))
    return Table(sheet, rows, first, columns)


def _is_head(text: str, phrases: Collection[str]) -> bool:
    if not text or len(text) > _LONGEST_HEAD or _is_number(text) or is_date(text):
        return False
    known = [*phrases, *(word for words in ROLES.values() for word in words)]
    return best_phrase(text, known)[0] >= LEAST_LIKENESS


def _is_number(text: str) -> bool:
    try:
        parse_number(text)
    except InputError:
        return False
    return True


def _head_rows(sheet: Sheet, main: int) -> tuple[int, ...]:
    """The row of heads with the shared heads above it and the units below it, where there are such."""
    rows = [main]
    above = sheet.rows[main - 2] if main > 1 else ()
    filled = [text for text in above if text]
    # A title over the whole sheet shares nothing out; dates and numbers are no heads.
    title = len(filled) == 1 and above.index(filled[0]) == 0
    if filled and not title and not any(_is_number(text) or is_date(text) for text in filled):
        rows.insert(0, main - 1)
    below = [text for text in (sheet.rows[main] if main < len(sheet.rows) else ()) if text]
    if below and sum(is_unit(text) or text in ("-", "hh:mm") for text in below) * 2 > len(below):
        rows.append(main + 1)
    return tuple(rows)


def _first_row(sheet: Sheet, start: int) -> int:
    """The first row below the heads with a date, else the first with a number that gives no targets."""
    with_number = 0
    for row in range(start, min(len(sheet.rows), start + HEADS_WITHIN) + 1):
        cells = [text for text in sheet.rows[row - 1] if text]
        if any(is_date(text) for text in cells) and not is_summary(cells[0]):
            return row
        if not with_number and any(map(_is_number, cells)) and not is_summary(cells[0]):
            with_number = row
    return with_number or start


def _groups(sheet: Sheet, row: int, width: int) -> list[str]:
    """The shared head over each column: a text holds until the next one, or a column without a head."""
    found, held = [], ""
    for index in range(width):
        text = sheet.text(row, index)
        held = text or (held if sheet.text(row + 1, index) else "")
        found.append(held)
    return found


def _first_text(sheet: Sheet, row: int) -> str:
    return next((text for text in sheet.rows[row - 1] if text), "")


def _heading(
    sheet: Sheet, index: int, main: int, rows: Sequence[int], data: Sequence[int], group: str
) -> Heading:
    """A column with its first cells below the heads; averages are no evidence of what it holds."""
    cells = []
    for row in data:
        text = sheet.text(row, index)
        if text:
            cells.append(text)
            if len(cells) >= LOOKED_AT:
                break
    texts = tuple(text for row in rows if (text := sheet.text(row, index)))
    # A head merged over all head rows stands in the first of them.
    head = sheet.text(main, index) or (sheet.text(rows[0], index) if rows[0] < main else "")
    return Heading(index, head, group, texts, tuple(cells))
