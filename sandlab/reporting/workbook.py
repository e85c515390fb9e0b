"""Exported tables as one workbook: a sheet per kind, typed cells, units under the heads, heads that stay."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl
import xlsxwriter
from xlsxwriter.exceptions import FileCreateError
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from sandlab.errors import impossible
from sandlab.reporting.columns import Column, Exported
from sandlab.reporting.tables import columns_frame, plain
from sandlab.reporting.workbook_charts import ChartOf, add_charts

MOST_ROWS = 1_048_576 - 2
LONGEST_TEXT = 32_767
LOCAL = "_local"
"""A time stands twice: exact in UTC as text, and as a date cell on the plant's clock under this ending."""
HEADS = 2
# The same records give the same bytes: no time of making stands in the file.
ZERO_TIME = datetime(2000, 1, 1, tzinfo=UTC)
_SPREADSHEET_EPOCH = pl.datetime(1899, 12, 30, time_unit="us")
_DAY_US = 86_400_000_000
_WIDTHS = {"time": 28, "number": 12, "whole": 9, "yes_no": 9, "text": 16, "list": 16}

Write = Callable[[int, int, Any], object]


class ExactSheet(Worksheet):  # type: ignore[misc]
    """A sheet that keeps every digit of a number; the library's own writes sixteen, one too few."""

    def _xml_number_element(self, number: float, attributes: Sequence[tuple[str, Any]] = ()) -> None:
        tags = "".join(f' {key}="{value}"' for key, value in attributes)
        self.fh.write(f"<c{tags}><v>{number!r}</v></c>")


def write_workbook(
    path: Path,
    tables: Sequence[Exported],
    about: Mapping[str, str],
    *,
    zone: str,
    charts: Sequence[ChartOf] = (),
) -> None:
    """All tables, what they are, what their columns say, and charts of tests; raises InputError."""
    _require_room(tables)
    try:
        _write(path, tables, about, zone=zone, charts=charts)
    except FileCreateError as error:
        # The library's half-made file would ask for room once more when it is thrown away.
        os.truncate(path, 0)
        raise OSError(str(error).partition("] ")[2] or str(error)) from error


def _write(
    path: Path,
    tables: Sequence[Exported],
    about: Mapping[str, str],
    *,
    zone: str,
    charts: Sequence[ChartOf],
) -> None:
    """Sheet after sheet."""
    # Rows go to the disk one after the other, so that years of tests fit in memory.
    with xlsxwriter.Workbook(str(path), {"constant_memory": True, "in_memory": False}) as book:
        book.set_properties({"created": ZERO_TIME, "title": f"{about['plant']}, {about['system']}"})
        about_frame = pl.DataFrame({"about": list(about), "text": list(about.values())})
        _sheet(book, "about", about_frame, described_plainly(about_frame), heads=1)
        columns = columns_frame(tables)
        _sheet(book, "columns", columns, described_plainly(columns), heads=1)
        for table in tables:
            for number, start in enumerate(range(0, max(1, table.frame.height), MOST_ROWS), start=1):
                name = table.kind if number == 1 else f"{table.kind}_{number}"
                _table_sheet(book, name, table.frame[start : start + MOST_ROWS], table.columns, zone)
        add_charts(book, tables, charts)


def described_plainly(frame: pl.DataFrame) -> tuple[Column, ...]:
    """Columns of text without a unit."""
    return tuple(Column(name, "text", "", "") for name in frame.columns)


def _require_room(tables: Sequence[Exported]) -> None:
    for table in tables:
        for column in table.columns:
            if column.cell != "text" or table.frame.is_empty():
                continue
            longest = table.frame[column.name].str.len_chars().max()
            if isinstance(longest, int) and longest > LONGEST_TEXT:
                what = f"holds a text of {longest} characters; a spreadsheet's cell holds {LONGEST_TEXT}"
                raise impossible(f"{table.kind}, {column.name}", what, "export as csv or parquet")


def _table_sheet(
    book: xlsxwriter.Workbook, name: str, frame: pl.DataFrame, columns: Sequence[Column], zone: str
) -> None:
    """One table; each time also as a date cell on the plant's clock."""
    shown: list[pl.Expr] = []
    described_: list[Column] = []
    for column in columns:
        if column.cell == "time":
            local = pl.col(column.name).dt.convert_time_zone(zone).dt.replace_time_zone(None)
            serial = (local - _SPREADSHEET_EPOCH).dt.total_microseconds() / _DAY_US
            shown.append(serial.alias(f"{column.name}{LOCAL}"))
            described_.append(Column(f"{column.name}{LOCAL}", "time", ZoneInfo(zone).key, ""))
        else:
            shown.append(pl.col(column.name))
            described_.append(column)
    exact = [column for column in columns if column.cell == "time"]
    text = plain(frame.select(column.name for column in exact)) if exact else pl.DataFrame()
    wide = pl.concat([plain(frame.select(shown)), text], how="horizontal")
    utc = [Column(column.name, "text", "UTC", column.words) for column in exact]
    _sheet(book, name, wide, [*described_, *utc], heads=HEADS)


def _sheet(
    book: xlsxwriter.Workbook, name: str, frame: pl.DataFrame, columns: Sequence[Column], *, heads: int
) -> None:
    sheet = book.add_worksheet(name, ExactSheet)
    bold = book.add_format({"bold": True, "bottom": 1 if heads == 1 else 0})
    under = book.add_format({"italic": True, "bottom": 1})
    date = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
    sheet.freeze_panes(heads, 1)
    writers = [_writer(sheet, column, date) for column in columns]
    for place, column in enumerate(columns):
        width = 20 if column.name.endswith(LOCAL) else _WIDTHS[column.cell]
        sheet.set_column(place, place, max(width, min(40, len(column.name) + 2)))
        sheet.write_string(0, place, column.name, bold)
    if heads == HEADS:
        for place, column in enumerate(columns):
            sheet.write_string(1, place, column.unit, under)
    for number, row in enumerate(frame.iter_rows(), start=heads):
        for place, value in enumerate(row):
            if value is not None:
                writers[place](number, place, value)
    if frame.height:
        sheet.autofilter(heads - 1, 0, heads - 1 + frame.height, len(columns) - 1)


def _writer(sheet: Worksheet, column: Column, date: Format) -> Write:
    """How a cell of this column is written; choosing once per column is much quicker than once per cell."""
    if column.cell == "time":
        return lambda row, place, value: sheet.write_number(row, place, value, date)
    number: Write = sheet.write_number
    truth: Write = sheet.write_boolean
    # Text is text even when it begins like a formula.
    text: Write = sheet.write_string
    return {"number": number, "whole": number, "yes_no": truth}.get(column.cell, text)
