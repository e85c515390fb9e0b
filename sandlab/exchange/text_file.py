"""Text tables: encoding and separator found from the bytes, ragged lines kept as they are."""

from __future__ import annotations

import csv
import re
from collections import Counter

from sandlab.errors import nearest
from sandlab.exchange.grid import Sheet, refused

# Tried in this order: a comma may be a decimal mark, a tab never is.
SEPARATORS = ("\t", ";", "|", ",")
SNIFFED_LINES = 30
# Some spreadsheets write the separator into a first line of its own.
_STATED = re.compile(r"\ufeff?sep=(.)\r?\n", re.IGNORECASE)
_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")


def text_sheet(name: str, content: bytes, sheet: str | None) -> Sheet:
    """The one table of a text file, named like the file; raises ImportRefused."""
    if sheet is not None and sheet != name:
        raise refused(
            name, f"a text file has no sheet '{sheet}'", f"leave the sheet out; {nearest(sheet, [name])}"
        )
    text = decoded(name, content)
    rows = []
    lines = text.splitlines(keepends=True)
    stated = _STATED.match(text)
    separator = stated[1] if stated else separator_of(text)
    if stated:
        # The line stays, blank, so that row numbers are those of the file.
        lines[0] = "\n"
    reader = csv.reader(lines, delimiter=separator, strict=True)
    try:
        for cells in reader:
            rows.append(tuple(cell.strip() for cell in cells))
    except csv.Error as error:
        raise refused(
            name,
            f"line {reader.line_num} breaks the table: {error}",
            'close or remove the quotation mark (")',
        ) from error
    return Sheet(name, tuple(rows))


def decoded(name: str, content: bytes) -> str:
    """The text of the bytes: UTF-16 or UTF-8 when they say so, else the Western Windows code page 1252."""
    if content.startswith(b"PK\x03\x04"):
        raise refused(name, "this is a workbook, not a text file", "give it its ending, .xlsx or .ods")
    for encoding in _encodings(content):
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise refused(name, "the text cannot be decoded", "save it as CSV with UTF-8 encoding")


def _encodings(content: bytes) -> tuple[str, ...]:
    """What the bytes may be written in; UTF-16 without its mark has every other byte of plain text nought."""
    start = content[:400]
    if content.startswith(_UTF16_MARKS):
        return ("utf-16",)
    for encoding, odd in (("utf-16-le", 1), ("utf-16-be", 0)):
        half = start[odd::2]
        if half and 2 * half.count(0) > len(half):
            return (encoding,)
    return ("utf-8-sig", "cp1252")


def separator_of(text: str) -> str:
    """The first separator that stands in nearly every line, or equally often in most; else a comma.

    The order of SEPARATORS counts: a comma may be a decimal mark, a tab never is.
    """
    lines = [line for line in text.splitlines() if line.strip()][:SNIFFED_LINES]
    for separator in SEPARATORS:
        counts = Counter(count for line in lines if (count := _outside_quotes(line, separator)))
        most, half = 5 * counts.total() >= 4 * len(lines), 2 * counts.total() >= len(lines)
        if counts and (most or (half and 3 * max(counts.values()) >= 2 * counts.total())):
            return separator
    return ","


def _outside_quotes(line: str, separator: str) -> int:
    """How often a separator stands outside of quotation marks."""
    return sum(part.count(separator) for part in line.split('"')[::2])
