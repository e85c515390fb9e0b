"""Charts in a workbook: the tests of a property over time with its limits and tolerance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import xlsxwriter
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

from sandlab.reporting.columns import Exported

MOST_POINTS = 5_000
"""A spreadsheet grows slow with more; the last ones are drawn."""
_ROWS_PER_CHART, _LEVELS = 22, 20
_DASHES = {"centre": "dash", "lower limit": "solid", "upper limit": "solid", "tolerance": "square_dot"}


@dataclass(frozen=True, slots=True)
class ChartOf:
    """One property to draw: its words, unit, and the level lines with their names."""

    property: str
    label: str
    unit: str
    levels: tuple[tuple[str, float], ...]


def add_charts(book: xlsxwriter.Workbook, tables: Sequence[Exported], charts: Sequence[ChartOf]) -> None:
    """A sheet `charts`; each chart points at the sheet `tests`, its level lines at cells beside it."""
    tests = next((table.frame for table in tables if table.kind == "tests"), None)
    drawn = [
        one
        for one in charts
        if tests is not None and one.property in tests.columns and tests[one.property].count() > 1
    ]
    if tests is None or not drawn:
        return
    sheet = book.add_worksheet("charts")
    # In the sheet a time stands where it stands in the table, as a date on the plant's clock.
    last = min(tests.height, 1_048_574) + 1
    span = max(2, last - MOST_POINTS + 1), last
    time = tests.columns.index("taken_at")
    row = 1
    for number, one in enumerate(drawn):
        chart = _chart(book, one, time, tests.columns.index(one.property), span)
        for name, value in one.levels:
            _level(sheet, chart, row, name, value, time, span)
            row += 1
        sheet.insert_chart(number * _ROWS_PER_CHART, 0, chart)


def _chart(book: xlsxwriter.Workbook, one: ChartOf, time: int, value: int, span: tuple[int, int]) -> Any:
    first, last = span
    chart = book.add_chart({"type": "scatter", "subtype": "straight_with_markers"})
    title = f"{one.label} [{one.unit}]" if one.unit else one.label
    chart.add_series(
        {
            "name": one.label,
            "categories": ["tests", first, time, last, time],
            "values": ["tests", first, value, last, value],
            "line": {"color": "#111111", "width": 0.75},
            "marker": {"type": "circle", "size": 3, "fill": {"color": "#111111"}, "border": {"none": True}},
        }
    )
    chart.set_title({"name": title})
    chart.set_x_axis({"num_format": "yyyy-mm-dd", "major_gridlines": {"visible": False}})
    chart.set_size({"width": 960, "height": 420})
    return chart


def _level(
    sheet: Worksheet, chart: Any, row: int, name: str, value: float, time: int, span: tuple[int, int]
) -> None:
    """A level line: its two ends as cells far to the right, and a series through them."""
    sheet.write_string(row, _LEVELS, name)
    letters = xl_col_to_name(time)
    for place, end in enumerate(span):
        sheet.write_formula(row, _LEVELS + 1 + place, f"=tests!{letters}{end + 1}")
        sheet.write_number(row, _LEVELS + 3 + place, value)
    chart.add_series(
        {
            "name": name,
            "categories": ["charts", row, _LEVELS + 1, row, _LEVELS + 2],
            "values": ["charts", row, _LEVELS + 3, row, _LEVELS + 4],
            "line": {"color": "#666666", "width": 1, "dash_type": _DASHES.get(name, "solid")},
            "marker": {"type": "none"},
        }
    )
