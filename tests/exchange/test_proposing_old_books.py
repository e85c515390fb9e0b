"""Habits of old books that a proposal has to see: merged heads, times without a mark, numbered weeks."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path

import openpyxl

from sandlab.exchange import plan_import, read_grid, report_lines
from sandlab.exchange.proposing import fitting_mapping
from sandlab.specs import Specs
from tests.exchange.test_proposing import LATER, asked, proposal_for, table

HEADS = ("Compact.", "Moisture")


def two_shifts(path: Path, *, first_time: str) -> None:
    """A sheet of two shifts side by side; date and first time have heads merged over three rows."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet["A1"], sheet["B1"], sheet["C1"], sheet["E1"] = "Date", first_time, "EARLY SHIFT", "LATE SHIFT"
    for place in ("A1:A3", "B1:B3", "C1:D1", "E1:G1"):
        sheet.merge_cells(place)
    for column, head in zip("CDEFG", (*HEADS, "Time", *HEADS), strict=True):
        sheet[f"{column}2"] = head
    for column in "CDFG":
        sheet[f"{column}3"] = "%"
    for day in range(1, 9):
        sheet.append([f"2016-03-{day:02d}", "06:00", 42, 3.3, "14:00", 41, 3.2])
    book.save(path)


def test_a_head_merged_over_all_head_rows_is_the_head_of_its_column(tmp_path: Path, specs: Specs) -> None:
    """Else the early shift would get the times of the late one."""
    path = tmp_path / "shifts.xlsx"
    two_shifts(path, first_time="Time")
    proposal = proposal_for(path, specs)
    plan = plan_import(path, proposal.mapping, specs=specs, now=LATER, by="B")
    found = {sample.at.hour: sample.results[0].value for sample in plan.samples}
    assert found == {6: 42, 14: 41}
    assert not proposal.questions


def test_real_time_cells_are_times(tmp_path: Path, specs: Specs) -> None:
    """They arrive with a spreadsheet's day zero, which is no date."""
    path = tmp_path / "shifts.xlsx"
    two_shifts(path, first_time="Time")
    book = openpyxl.load_workbook(path)
    for row in range(4, book.worksheets[0].max_row + 1):
        book.worksheets[0].cell(row, 1).value = date(2016, 3, row - 3)
        book.worksheets[0].cell(row, 2).value = time(6, 0)
        book.worksheets[0].cell(row, 5).value = time(14, 0)
    book.save(path)
    proposal = proposal_for(path, specs)
    plan = plan_import(path, proposal.mapping, specs=specs, now=LATER, by="B")
    assert {sample.at.hour: sample.results[0].value for sample in plan.samples} == {6: 42, 14: 41}
    assert not proposal.questions


def test_a_time_that_is_taken_from_a_later_shift_is_asked_about(tmp_path: Path, specs: Specs) -> None:
    """Where the own column of times is not known by its head."""
    path = tmp_path / "shifts.xlsx"
    two_shifts(path, first_time="Knocked")
    assert "no time of its own stands beside this column; that of column E is taken" in asked(
        proposal_for(path, specs)
    )


def test_times_written_without_a_mark_are_read(tmp_path: Path, specs: Specs) -> None:
    """0600 and 1430, as on many shop clocks; 600 where a workbook has taken it for a number."""
    text = "Date,Time,CB\n2026-03-04,0600,42\n2026-03-05,600,42\n2026-03-04,1430,43\n"
    proposal, plan = table(tmp_path, text, specs)
    assert proposal.mapping.times == ("hourminute",)
    assert [f"{sample.at:%d %H:%M}" for sample in plan.samples] == ["04 06:00", "04 14:30", "05 06:00"]


def test_numbered_sums_are_left_out_by_their_words(tmp_path: Path, specs: Specs) -> None:
    """The kept mapping has to leave out week 14 of the next file as well."""
    rows = [f"2026-03-{day:02d},07:00,42" for day in range(1, 9)]
    text = "Date,Time,CB\n" + "\n".join([*rows[:4], "Mean week 9,,42", *rows[4:], "Mean week 10,,42"]) + "\n"
    proposal, plan = table(tmp_path, text, specs)
    (sheet,) = proposal.mapping.sheets.values()
    assert sheet.skip_rows_with == ("Mean week",)
    assert len(plan.samples) == 8


def test_the_new_sheet_of_a_book_that_grows_is_read_by_the_kept_mapping(tmp_path: Path, specs: Specs) -> None:
    """Next month in the same workbook; a sheet with other heads is named as not read."""
    path = tmp_path / "year.xlsx"
    two_shifts(path, first_time="Time")
    kept = {"year.toml": proposal_for(path, specs).mapping}
    book = openpyxl.load_workbook(path)
    sheet = book.copy_worksheet(book.worksheets[0])
    sheet.title = "April"
    for row in range(4, sheet.max_row + 1):
        sheet.cell(row, 1).value = f"2016-04-{row - 3:02d}"
    book.create_sheet("Notes")["A1"] = "Muller ploughs changed"
    book.create_sheet("Empty")
    book.save(path)
    found = fitting_mapping(path.name, read_grid(path, None), kept, specs)
    assert found is not None
    plan = plan_import(path, found[1], specs=specs, now=LATER, by="B")
    assert [sum(one.at.month == month for one in plan.samples) for month in (3, 4)] == [16, 16]
    assert plan.unread == ("Notes",)
    assert any(line.endswith("not name them: Notes") for line in report_lines(plan))


def test_bare_dates_of_a_workbook_are_asked_for_their_time(tmp_path: Path, specs: Specs) -> None:
    """A date cell always arrives with midnight; that nobody wrote."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["Date", "GFN", "AFS clay"], *([date(2016, 3, day), 58.2, 11.1] for day in range(1, 9))):
        sheet.append(row)
    book.save(tmp_path / "sieve.xlsx")
    told = asked(proposal_for(tmp_path / "sieve.xlsx", specs))
    assert "no time of day stands in the rows, and their dates alone mean midnight; add fixed_time" in told
