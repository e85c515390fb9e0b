"""OpenDocument sheets written for tests, part by part as the standard (ODF 1.2) has them."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from datetime import date, datetime, time
from xml.sax.saxutils import escape

MIME = "application/vnd.oasis.opendocument.spreadsheet"
_SPACES = " ".join(
    f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in ("office", "table", "text")
)


def cell(value: object) -> str:
    """One cell of the content."""
    if value is None or value == "":
        return "<table:table-cell/>"
    shown = f"<text:p>{escape(str(value))}</text:p>"
    if isinstance(value, bool | str):
        return f'<table:table-cell office:value-type="string">{shown}</table:table-cell>'
    if isinstance(value, datetime):
        kind = f'office:value-type="date" office:date-value="{value:%Y-%m-%dT%H:%M:%S}"'
    elif isinstance(value, date):
        kind = f'office:value-type="date" office:date-value="{value:%Y-%m-%d}"'
    elif isinstance(value, time):
        kind = f'office:value-type="time" office:time-value="PT{value:%HH%MM%SS}"'
    else:
        kind = f'office:value-type="float" office:value="{value}"'
    return f"<table:table-cell {kind}>{shown}</table:table-cell>"


def table(name: str, rows: Sequence[Sequence[object]]) -> str:
    """One sheet, filled up with blank cells to the last row as spreadsheets do."""
    lines = "".join(
        "<table:table-row>"
        + "".join(cell(value) for value in row)
        + '<table:table-cell table:number-columns-repeated="16370"/></table:table-row>'
        for row in rows
    )
    rest = (
        '<table:table-row table:number-rows-repeated="1048000">'
        '<table:table-cell table:number-columns-repeated="16384"/></table:table-row>'
    )
    return f'<table:table table:name="{escape(name)}">{lines}{rest}</table:table>'


def package(tables: str, *, manifest: str = "") -> bytes:
    """The file around the tables."""
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {_SPACES} office:version="1.2">'
        f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    spaces = 'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"'
    entries = "".join(
        f'<manifest:file-entry manifest:full-path="{path}" manifest:media-type="{kind}"/>'
        for path, kind in (("/", MIME), ("content.xml", "text/xml"))
    )
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("mimetype", MIME, zipfile.ZIP_STORED)
        book.writestr("content.xml", content)
        book.writestr(
            "META-INF/manifest.xml", f"<manifest:manifest {spaces}>{entries}{manifest}</manifest:manifest>"
        )
    return held.getvalue()
