"""Workbooks: every cell as text through calamine, with error values that it would drop put back.

OpenDocument sheets have a reader of their own.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from xml.etree import ElementTree

import fastexcel

from sandlab.errors import nearest
from sandlab.exchange.grid import Sheet, column_index, refused
from sandlab.exchange.opendocument import open_document_sheets

# First bytes of old .xls files and of workbooks locked by a password, and of all others.
_COMPOUND, _PACKAGE = b"\xd0\xcf\x11\xe0", b"PK"
# What the readers raise on packages with flipped bits, cut ends and broken XML.
_DAMAGE = (
    fastexcel.FastExcelError,
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    ElementTree.ParseError,
    EOFError,
    LookupError,
    OSError,
    RuntimeError,
    ValueError,
)
_ERROR_CELL = re.compile(rb'<c ([^>/]*\bt="e"[^>/]*)>.*?<v>([^<]*)</v>', re.DOTALL)
_REFERENCE = re.compile(rb'\br="([A-Z]+)(\d+)"')
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


def workbook_sheets(name: str, content: bytes, sheet: str | None) -> tuple[Sheet, ...]:
    """The named sheet of a workbook, or all of them in order; raises ImportRefused."""
    if content.startswith(_COMPOUND):
        raise refused(
            name, "this is an old .xls workbook or one with a password", "save it as .xlsx without a password"
        )
    if not content.startswith(_PACKAGE):
        raise refused(
            name, "this is no workbook, whatever its ending says", "give a text table the ending .csv"
        )
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            return _sheets(name, content, package, sheet)
    except _DAMAGE as error:
        why = str(error).partition("\n")[0].removeprefix("calamine error: ")
        why = "its end is missing" if why == "File is not a zip file" else why
        raise refused(
            name,
            f"the workbook is damaged ({why})",
            "open it in a spreadsheet, save it again, or use a backup",
        ) from error


def _sheets(name: str, content: bytes, package: zipfile.ZipFile, sheet: str | None) -> tuple[Sheet, ...]:
    # The reader does not compare checksums: a flipped bit would pass as another number.
    spoilt = package.testzip()
    if spoilt is not None:
        raise zipfile.BadZipFile(f"the checksum of {spoilt} is wrong")
    if "content.xml" in package.namelist():
        return open_document_sheets(name, package, sheet)
    reader = fastexcel.read_excel(content)
    if sheet is not None and sheet not in reader.sheet_names:
        raise refused(name, f"there is no sheet '{sheet}'", nearest(sheet, reader.sheet_names))
    wanted = reader.sheet_names if sheet is None else [sheet]
    return tuple(_sheet(reader, each, package) for each in wanted)


def _sheet(reader: fastexcel.ExcelReader, name: str, package: zipfile.ZipFile) -> Sheet:
    # skip_rows=0 keeps the blank rows above the first cell, so that row numbers are those of the sheet.
    loaded = reader.load_sheet(name, header_row=None, skip_rows=0, dtypes="string")
    frame = loaded.to_polars()
    # Blank columns before the first cell are dropped by the reader and are put back here.
    before = ("",) * loaded.selected_columns[0].absolute_index if frame.width else ()
    rows = [before + tuple((cell or "").strip() for cell in row) for row in frame.iter_rows()]
    for row, column, text in _error_cells(package, name):
        cells = list(rows[row - 1])
        cells[column] = text
        rows[row - 1] = tuple(cells)
    return Sheet(name, tuple(rows))


def _error_cells(package: zipfile.ZipFile, sheet: str) -> Iterator[tuple[int, int, str]]:
    """Row (from 1), column (from 0) and text of the formula errors (#DIV/0!), which calamine leaves blank."""
    try:
        xml = package.read(_part_of(package, sheet))
    except KeyError:
        # Packed in some other way than the usual: nothing to put back.
        return
    if b't="e"' not in xml:
        return
    for attributes, text in _ERROR_CELL.findall(xml):
        place = _REFERENCE.search(attributes)
        if place:
            yield int(place[2]), column_index(place[1].decode()), text.decode()


def _part_of(package: zipfile.ZipFile, sheet: str) -> str:
    """Where in the package the XML of a sheet is kept."""
    book = ElementTree.fromstring(package.read("xl/workbook.xml"))
    relation = next(
        (e.get(_RELATION) for e in book.iter() if e.get("name") == sheet and e.get(_RELATION)), ""
    )
    relations = ElementTree.fromstring(package.read("xl/_rels/workbook.xml.rels"))
    target = next((e.get("Target", "") for e in relations.iter() if e.get("Id") == relation), "")
    return target.removeprefix("/") if target.startswith("/") else f"xl/{target}"
