"""A file as cells of text: what stands where, before anybody decides what it means."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from sandlab.errors import ImportRefused, Problem

WORKBOOK_SUFFIXES = (".xlsx", ".xlsm", ".ods")
TEXT_SUFFIXES = (".csv", ".tsv", ".txt")


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet (or the one table of a text file): rows of trimmed cell texts from A1 on."""

    name: str
    rows: tuple[tuple[str, ...], ...]

    def text(self, row: int, column: int) -> str:
        """The text at sheet row `row` (from 1) and column index `column` (from 0), "" for none."""
        if not 1 <= row <= len(self.rows):
            return ""
        cells = self.rows[row - 1]
        return cells[column] if 0 <= column < len(cells) else ""


@cache
def letters(index: int) -> str:
    """The spreadsheet letters of a column index: 0 is A, 26 is AA."""
    text, left = "", index + 1
    while left:
        left, digit = divmod(left - 1, 26)
        text = chr(ord("A") + digit) + text
    return text


def column_index(text: str) -> int:
    """The column index of spreadsheet letters: A is 0, AA is 26."""
    index = 0
    for letter in text.upper():
        index = index * 26 + ord(letter) - ord("A") + 1
    return index - 1


def read_grid(path: Path, sheet: str | None) -> tuple[Sheet, ...]:
    """Every cell of a workbook or text file as text, one sheet or all; raises ImportRefused."""
    if path.is_dir():
        do = "name a file, or a folder that sandlab export wrote"
        raise refused(path.name, "is a folder and no export of sandlab", do)
    if not path.is_file():
        raise refused(path.name, "there is no such file", "check the name and the folder")
    suffix = path.suffix.lower()
    if suffix not in WORKBOOK_SUFFIXES + TEXT_SUFFIXES:
        known = ", ".join(WORKBOOK_SUFFIXES + TEXT_SUFFIXES)
        raise refused(path.name, f"files ending in '{suffix}' are not read", f"save it as one of {known}")
    try:
        content = path.read_bytes()
    except OSError as error:
        raise refused(
            path.name, f"cannot be read: {error.strerror}", "check the rights of the file"
        ) from error
    if not content.strip():
        raise refused(path.name, "the file is empty", "choose the file that holds the tests")
    if suffix in WORKBOOK_SUFFIXES:
        # Imported here: text files need no workbook reader.
        from sandlab.exchange.workbook import workbook_sheets

        return workbook_sheets(path.name, content, sheet)
    from sandlab.exchange.text_file import text_sheet

    return (text_sheet(path.name, content, sheet),)


def refused(where: str, what: str, do: str) -> ImportRefused:
    """The error for one reason why a file cannot be taken in."""
    return ImportRefused(Problem(where, what, do))
