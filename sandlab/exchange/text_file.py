"""Text tables: encoding and separator found from the bytes, ragged lines kept as they are."""

from __future__ import annotations

import csv

from sandlab.errors import nearest
from sandlab.exchange.grid import Sheet, refused

# Tried in this order: a comma may be a decimal mark, a tab never is.
SEPARATORS = ("\t", ";", ",")
SNIFFED_LINES = 30
_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")


def text_sheet(name: str, content: bytes, sheet: str | None) -> Sheet:
    """The one table of a text file, named like the file; raises ImportRefused."""
    if sheet is not None and sheet != name:
        raise refused(
            name, f"a text file has no sheet '{sheet}'", f"leave the sheet out; {nearest(sheet, [name])}"
        )
    text = decoded(name, content)
    rows = []
    reader = csv.reader(text.splitlines(keepends=True), delimiter=separator_of(text), strict=True)
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
        raise refused(name, "this is a workbook, not a text file", "give it its ending .xlsx")
    encodings = ("utf-16",) if content.startswith(_UTF16_MARKS) else ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise refused(name, "the text cannot be decoded", "save it as CSV with UTF-8 encoding")


def separator_of(text: str) -> str:
    """The separator that stands in at least half of the first lines that are not blank, else a comma."""
    lines = [line for line in text.splitlines() if line.strip()][:SNIFFED_LINES]
    for separator in SEPARATORS:
        if 2 * sum(separator in line for line in lines) >= len(lines):
            return separator
    return ","
