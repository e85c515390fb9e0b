"""A small lab sheet with every habit of such sheets, and the mapping that reads it."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from pathlib import Path

import xlsxwriter

NOW = datetime(2026, 9, 1, 12, tzinfo=UTC)
SHEET = "Sand 2026"

MAPPING = """
system = "main"
point = "muller_discharge"
time_zone = "Europe/Berlin"
dates = ["day.month.year", "day/month/year"]
times = ["hour:minute", "hour.minute"]
not_measured = ["-", "n/a"]

[technicians]
KD = "K. Dorn"
MW = "M. Weil"

[sheets.lab]
name = "Sand 2026"
head_rows = [4, 5]
first_row = 6
date = { at = "B", head = "Date" }
date_fill_down = true
skip_rows_with = ["Average"]

[sheets.lab.blocks.early]
time = { at = "C", head = "Time" }
technician = { at = "D" }
note = { at = "I" }

[sheets.lab.blocks.early.columns]
compactability = { at = "E", head = "CB %" }
moisture = { at = "F", head = "H2O %", zero_means_not_tested = true }
green_compression_strength = { at = "G", head = "GCS [N/cm2]", unit = "N/cm2" }
sand_temperature = { at = "H", unit = "C" }

[sheets.lab.blocks.late]
time = { at = "J" }
technician = { at = "K" }

[sheets.lab.blocks.late.columns]
compactability = { at = "L", head = "CB %" }
moisture = { at = "M", head = "H2O %", zero_means_not_tested = true }
"""

# Row 6 on: date; early shift (time, initials, CB, H2O, GCS, temperature, comment); late shift.
ROWS: list[list[object]] = [
    [date(2026, 3, 4), time(6, 0), "KD", 42, 3.2, 16.5, 31, "", time(14, 0), "MW", 41, "3,30"],
    ["", "07:00", "KD", "43", "3,25", "< 2", "n/a", "belt wet", "15:00", "MW", 40, 0.0],
    ["05.03.2026", "06.00", "kd", 41, 0.0, "16,9", 33, "", "14.00", "??", "-", 3.1],
    ["", "07:00", "KD", 44, 33, 16.1, 34, "", "15:00", "MW", "4,2,1", 3.2],
    ["", "07:00", "KD", 44, 33, 16.1, 34, "", "", "", "", ""],
    ["Average", "", "", 42.8, 3.2, 16.4, 32.5, "", "", "", 40.5, 3.2],
    [46087, 0.375, "KD", 42, 2.8, 16, 95, "", "14:00", "", 70, 3.3],
    ["", "09:00", "KD", 47, 2.8, 16, 95, "", "", "", "", ""],
    ["31.02.2026", "06:00", "KD", 42, 3.1, 16, 30, "", "", "", "", ""],
    [date(2026, 10, 1), "06:00", "KD", 42, 3.1, 16, 30, "", "", "", "", ""],
    [date(2026, 3, 7), "", "", "", "", "", "", "pump out of order", "25:00", "MW", 41, ""],
]


def write_messy(path: Path) -> Path:
    """Write the sheet: title rows, a blank column A, merged shift heads, units in the heads."""
    book = xlsxwriter.Workbook(str(path))
    day = book.add_format({"num_format": "dd.mm.yyyy"})
    clock = book.add_format({"num_format": "hh:mm"})
    sheet = book.add_worksheet(SHEET)
    sheet.merge_range("B1:M1", "Moulding sand, daily sheet")
    sheet.merge_range("C4:I4", "Early shift")
    sheet.merge_range("J4:M4", "Late shift")
    sheet.write_row("B5", ["Date", "Time", "by", "CB %", "H2O  %", "GCS\n[N/cm2]", "Temp. °C", "Comment"])
    sheet.write_row("J5", ["Time", "by", "CB %", "H2O %"])
    for row, cells in enumerate(ROWS, start=5):
        for column, cell in enumerate(cells, start=1):
            if isinstance(cell, date):
                sheet.write_datetime(row, column, datetime.combine(cell, time()), day)
            elif isinstance(cell, time):
                sheet.write_datetime(row, column, cell, clock)
            elif cell != "":
                sheet.write(row, column, cell)
    book.add_worksheet("Notes").write("C3", "kept by the lab")
    book.close()
    return path
