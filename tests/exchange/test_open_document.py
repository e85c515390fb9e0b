"""OpenDocument sheets, compared with calamine where that reads all, else with what was written."""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path

import fastexcel
import pytest

from sandlab.errors import ImportRefused
from sandlab.exchange import read_grid
from tests.exchange.open_document import package, table

ROWS: list[list[object]] = [
    ["Sand laboratory"],
    [],
    ["", "Date", "CB [%]", "Note"],
    ["", date(2026, 3, 4), 42.5, "belt wet"],
    ["", datetime.fromisoformat("2026-03-05 15:30"), 43, ""],
    ["", "06.03.2026", "41,5", "a < b & c"],
]


def saved(tmp_path: Path, content: bytes) -> Path:
    """The file in a folder."""
    path = tmp_path / "book.ods"
    path.write_bytes(content)
    return path


def test_every_cell_equals_what_calamine_reads(tmp_path: Path) -> None:
    """Places and texts; the filling to the last row is not taken for rows."""
    content = package(table("Lab", ROWS))
    (sheet,) = read_grid(saved(tmp_path, content), None)
    frame = fastexcel.read_excel(content).load_sheet(0, header_row=None, skip_rows=0, dtypes="string")
    assert len(sheet.rows) == len(ROWS)
    for number, row in enumerate(frame.to_polars().iter_rows(), start=1):
        for index, text in enumerate(row):
            assert sheet.text(number, index) == (text or "").replace("T", " "), (number, index)


def test_a_time_of_day_is_kept(tmp_path: Path) -> None:
    """Written as the other workbooks have it."""
    content = package(table("Lab", [[time(7, 5), time(23, 59, 59)]]))
    (sheet,) = read_grid(saved(tmp_path, content), None)
    assert sheet.rows == (("1899-12-31 07:05:00", "1899-12-31 23:59:59"),)


def test_a_formulas_kept_value_and_its_error_are_read(tmp_path: Path) -> None:
    """The value as last computed; an error as its text. Comments on a cell are not its content."""
    cells = (
        '<table:table-row><table:table-cell table:formula="of:=[.A1]*2" office:value-type="float" '
        'office:value="85"><office:annotation><text:p>by hand</text:p></office:annotation><text:p>85</text:p>'
        '</table:table-cell><table:table-cell table:formula="of:=1/0" office:value-type="string" '
        'office:string-value=""><text:p>#DIV/0!</text:p></table:table-cell>'
        '<table:table-cell office:value-type="string"><text:p>two<text:s text:c="2"/>words</text:p>'
        "</table:table-cell></table:table-row>"
    )
    content = package(f'<table:table table:name="Lab">{cells}</table:table>')
    (sheet,) = read_grid(saved(tmp_path, content), "Lab")
    assert sheet.rows == (("85", "#DIV/0!", "two  words"),)


def test_repeated_and_merged_cells_stand_in_their_places(tmp_path: Path) -> None:
    """A cell repeated three times is three cells; what a merged cell covers is blank."""
    cells = (
        '<table:table-row table:number-rows-repeated="2"><table:table-cell table:number-columns-repeated="3" '
        'office:value-type="float" office:value="1.50"><text:p>1,5</text:p></table:table-cell>'
        "<table:covered-table-cell/><table:table-cell office:value-type='string'><text:p>x</text:p>"
        "</table:table-cell></table:table-row>"
    )
    content = package(f'<table:table table:name="Lab">{cells}</table:table>')
    (sheet,) = read_grid(saved(tmp_path, content), None)
    assert sheet.rows == (("1.5", "1.5", "1.5", "", "x"),) * 2


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (package(table("Lab", ROWS))[:300], "damaged"),
        (package("<table:table"), "damaged"),
        (package(table("Lab", ROWS), manifest="<manifest:encryption-data/>"), "password"),
        (package(table("Lab", [])), "there is no sheet 'Other'"),
    ],
)
def test_damaged_and_locked_files_are_refused_in_words(tmp_path: Path, content: bytes, what: str) -> None:
    """Where, what and what to do."""
    with pytest.raises(ImportRefused, match=what) as caught:
        read_grid(saved(tmp_path, content), "Other")
    assert all(problem.where == "book.ods" and problem.do for problem in caught.value.problems)
