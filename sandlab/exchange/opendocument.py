"""OpenDocument sheets: every cell as text, with times of day, which the workbook reader would drop."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from sandlab.errors import nearest
from sandlab.exchange.grid import Sheet, refused

SUFFIX = ".ods"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_CLOCK = re.compile(r"PT(\d{1,2})H(\d{1,2})M(\d{1,2})(?:[.,]\d+)?S")
# A sheet is filled up to its last row and column by repeats of one blank cell; nobody wrote that many.
MOST_ROWS, MOST_COLUMNS = 1_048_576, 16_384


def open_document_sheets(name: str, package: zipfile.ZipFile, wanted: str | None) -> tuple[Sheet, ...]:
    """The named sheet of an OpenDocument package, or all of them in order; raises ImportRefused."""
    if b"encryption-data" in package.read("META-INF/manifest.xml"):
        raise refused(name, "the workbook has a password", "save it without a password")
    content = package.read("content.xml")
    sheets = tuple(_sheets(content))
    if wanted is None:
        return sheets
    names = [sheet.name for sheet in sheets]
    if wanted not in names:
        raise refused(name, f"there is no sheet '{wanted}'", nearest(wanted, names))
    return (sheets[names.index(wanted)],)


def _sheets(content: bytes) -> Iterator[Sheet]:
    title, rows = "", list[tuple[str, ...]]()
    for event, element in ElementTree.iterparse(io.BytesIO(content), events=("start", "end")):
        if event == "start":
            if element.tag == f"{_TABLE}table":
                title, rows = element.get(f"{_TABLE}name", ""), []
        elif element.tag == f"{_TABLE}table-row":
            cells = _cells(element)
            rows += [cells] * _repeats(element, "rows", MOST_ROWS - len(rows))
            element.clear()
        elif element.tag == f"{_TABLE}table":
            while rows and not any(rows[-1]):
                rows.pop()
            yield Sheet(title, tuple(rows))
            element.clear()


def _repeats(element: Element, what: str, most: int) -> int:
    written = element.get(f"{_TABLE}number-{what}-repeated", "1")
    return max(0, min(int(written), most))


def _cells(row: Element) -> tuple[str, ...]:
    """The texts of one row without blank cells at its end; those under a merged cell are blank."""
    cells: list[str] = []
    waiting = 0
    for cell in row:
        times = _repeats(cell, "columns", MOST_COLUMNS - len(cells) - waiting)
        text = _cell(cell) if cell.tag == f"{_TABLE}table-cell" else ""
        if text:
            cells += [""] * waiting + [text] * times
            waiting = 0
        else:
            waiting += times
    return tuple(cells)


def _cell(cell: Element) -> str:
    kind = cell.get(f"{_OFFICE}value-type", "")
    if kind in ("float", "percentage", "currency"):
        return _number(cell.get(f"{_OFFICE}value", ""))
    if kind == "date":
        return cell.get(f"{_OFFICE}date-value", "").replace("T", " ")
    if kind == "time":
        written = cell.get(f"{_OFFICE}time-value", "")
        clock = _CLOCK.fullmatch(written)
        # As the other workbooks have it: a time alone stands on the spreadsheet's day zero.
        return "1899-12-31 {:0>2}:{:0>2}:{:0>2}".format(*clock.groups()) if clock else written
    shown = "\n".join("".join(_texts(part)) for part in cell.findall(f"{_TEXT}p")).strip()
    return shown or cell.get(f"{_OFFICE}string-value", "").strip()


def _number(written: str) -> str:
    """A value as a person would write it: without a power of ten, and without a binary fraction's tail."""
    value = float(written)
    return str(int(value)) if value.is_integer() and abs(value) < 1e15 else f"{value:.12g}"


def _texts(part: Element) -> Iterator[str]:
    if part.tag == f"{_TEXT}s":
        yield " " * min(int(part.get(f"{_TEXT}c", "1")), 100)
    elif part.tag in (f"{_TEXT}line-break", f"{_TEXT}tab"):
        yield " "
    yield part.text or ""
    for child in part:
        yield from _texts(child)
        yield child.tail or ""
