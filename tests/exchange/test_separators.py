"""Text tables as they come: separators, encodings and marks, compared with what was written into them."""

from __future__ import annotations

import csv
import io

import pytest

from sandlab.exchange.text_file import separator_of, text_sheet

HEAD = ["Date", "Time", "CB [%]", "GCS [N/cm²]", "Remark"]
ROWS = [
    ["04.03.2026", "06:00", "42", "16,5", "belt wet, stopped"],
    ["04.03.2026", "07:00", "43", "16,1", ""],
    ["04.03.2026", "08:00", "41,5", "15,9", 'says "dry"'],
]


def written(separator: str) -> str:
    """The table as the csv module of the standard library writes it."""
    lines = io.StringIO()
    csv.writer(lines, delimiter=separator).writerows([HEAD, *ROWS])
    return lines.getvalue()


@pytest.mark.parametrize("separator", ["\t", ";", "|", ","])
def test_any_separator_is_found(separator: str) -> None:
    """Also beside decimal commas and commas inside quotation marks."""
    sheet = text_sheet("t.csv", written(separator).encode(), None)
    assert [list(row) for row in sheet.rows] == [HEAD, *ROWS]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_any_usual_encoding_is_read(encoding: str) -> None:
    """With and without a byte order mark."""
    sheet = text_sheet("t.csv", written(";").encode(encoding), None)
    assert [list(row) for row in sheet.rows] == [HEAD, *ROWS]


def test_titles_above_the_table_do_not_choose_the_separator() -> None:
    """A title with a comma, then a table with semicolons."""
    text = "Sand laboratory, line 1\nKept by the lab, all shifts\n\n" + written(";")
    assert separator_of(text) == ";"


def test_decimal_commas_do_not_win_over_a_semicolon_that_ends_unevenly() -> None:
    """Ragged lines: the semicolon still stands before the comma."""
    assert separator_of("a;b;c\n1,5;2,5\n1,5;2,5;3,5;\n1,5;2,5;3,5\n") == ";"


def test_a_line_that_names_the_separator_is_followed() -> None:
    """And row numbers stay those of the file."""
    sheet = text_sheet("t.csv", b"sep=:\na:b\n1,2:3,4\n", None)
    assert sheet.rows[1:] == (("a", "b"), ("1,2", "3,4"))
