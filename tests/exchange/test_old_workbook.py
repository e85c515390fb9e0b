"""The committed old workbook: read again by openpyxl and counted here by rules written out anew."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import openpyxl
import pytest
from openpyxl.cell import Cell
from openpyxl.worksheet.worksheet import Worksheet

from sandlab.exchange import ImportPlan, load_mapping, plan_import
from sandlab.labels import data_folder
from sandlab.specs import Specs, load

SAMPLES = data_folder("sample_data")
BOOK = SAMPLES / "old_workbook.xlsx"
ZONE = ZoneInfo("Europe/Copenhagen")
NOW = datetime(2026, 1, 1, tzinfo=UTC)
# Columns as somebody sees them who opens the workbook, and by what a written number is multiplied.
TWO_HOURLY = {
    "compactability": 1.0,
    "moisture": 1.0,
    "green_compression_strength": 10.0,  # 1 N/cm2 is 10 kPa by definition
    "permeability": 1.0,
    "specimen_weight": 1.0,
    "sand_temperature": 1.0,
    "active_clay": 1.0,
}
FURNACE = dict.fromkeys(
    ("volatiles", "loss_on_ignition", "afs_clay", "grain_fineness_number", "fines"), 1.0
)  # fmt: skip
# No sand has that much strength (kPa) or water (%).
LARGEST = {"green_compression_strength": 600.0, "moisture": 20.0}
NAMES = {"MO": "M. Oduya", "TB": "T. Brandvik", "SK": "S. Kettering", "sk": "S. Kettering"}


@dataclass
class Counted:
    """What the workbook holds: results by local time and property, and how many cells are what."""

    results: dict[tuple[datetime, str], tuple[float, str]] = field(default_factory=dict)
    by: dict[datetime, str] = field(default_factory=dict)
    number: Counter[str] = field(default_factory=Counter)
    wrong: set[str] = field(default_factory=set)

    def add_row(self, moment: datetime, cells: list[Cell], factors: dict[str, float], by: Cell) -> None:
        """One row's part of a block."""
        self.number["rows"] += 1
        new = {}
        for (name, factor), cell in zip(factors.items(), cells, strict=True):
            if cell.value in ("-", "n/a") or (name == "active_clay" and cell.value == 0.0):
                self.number["not_measured"] += 1
            elif cell.value is not None:
                text = str(cell.value).replace(",", ".")
                value = number(text.removeprefix("<")) * factor
                if value < LARGEST.get(name, 1e6):
                    new[moment, name] = (value, "<" if text.startswith("<") else "")
                else:
                    self.wrong.add(cell.coordinate)
        if new.keys() <= self.results.keys():
            assert all(self.results[key] == value for key, value in new.items())
            self.number["duplicates"] += 1
        self.results |= new
        self.by.setdefault(moment, str(by.value))


def number(text: str) -> float:
    """The number of a text, endless when it is none."""
    try:
        return float(text)
    except ValueError:
        return math.inf


def as_day(cell: object) -> date:
    """A date cell, or one of the two forms in which dates are typed."""
    if isinstance(cell, datetime):
        return cell.date()
    form = "%d.%m.%Y" if "." in str(cell) else "%d/%m/%y"
    return datetime.strptime(str(cell), form).date()  # noqa: DTZ007 - a day has no time zone


def as_clock(cell: object) -> time:
    """A time cell, or hours and minutes as text."""
    return cell if isinstance(cell, time) else time.fromisoformat(str(cell))


def two_hourly_rows(sheet: Worksheet) -> Iterator[tuple[date, int]]:
    """The row numbers with tests, each with the date written in or above it."""
    day = None
    for row in range(7, sheet.max_row + 1):
        first = sheet.cell(row, 1).value
        if first == "Average":
            continue
        if isinstance(first, datetime) or (isinstance(first, str) and first[:1].isdigit()):
            day = as_day(first)
        if day is not None:
            yield day, row


@pytest.fixture(scope="module")
def counted() -> Counted:
    """The workbook read by openpyxl."""
    book, found = openpyxl.load_workbook(BOOK, data_only=True), Counted()
    sheet = book["Sand 2025"]
    for day, row in two_hourly_rows(sheet):
        for time_column in (2, 12):
            clock, *cells, by = (sheet.cell(row, column) for column in range(time_column, time_column + 9))
            if clock.value is not None:
                found.add_row(datetime.combine(day, as_clock(clock.value)), cells, TWO_HOURLY, by)
    sheet = book["Weekly"]
    for row in range(4, sheet.max_row + 1):
        day_cell, clock, *cells, by = (sheet.cell(row, column) for column in range(1, 9))
        if day_cell.value is not None:
            moment = datetime.combine(as_day(day_cell.value), as_clock(clock.value))
            found.add_row(moment, cells, FURNACE, by)
    return found


@pytest.fixture(scope="module")
def haldmoor() -> Specs:
    """The specs of the sample foundry."""
    return load(SAMPLES / "specs")


@pytest.fixture(scope="module")
def plan(haldmoor: Specs) -> ImportPlan:
    """What importing the workbook with its own mapping would add."""
    mapping = load_mapping(SAMPLES / "mapping.toml", haldmoor)
    return plan_import(BOOK, mapping, specs=haldmoor, now=NOW, by="Import")


def test_every_result_equals_the_cell_that_openpyxl_reads(counted: Counted, plan: ImportPlan) -> None:
    """Cell by cell: the same times, properties, values and bounds; none more, none less."""
    imported = {}
    for sample in plan.samples:
        local = sample.at.astimezone(ZONE).replace(tzinfo=None)
        for result in sample.results:
            imported[local, result.property] = (result.value, result.censored)
    assert imported.keys() == counted.results.keys()
    for key, (value, censored) in counted.results.items():
        assert imported[key][0] == pytest.approx(value, abs=1e-9), key
        assert imported[key][1] == censored, key


def test_counts_equal_those_counted_in_the_workbook(counted: Counted, plan: ImportPlan) -> None:
    """Rows, duplicates, cells that say not measured, refused cells with their places."""
    counts = plan.counts
    assert counts.rows == counted.number["rows"] > 100
    assert counts.duplicates == counted.number["duplicates"] > 0
    assert counts.not_measured == counted.number["not_measured"] > 10
    assert counts.results == len(counted.results) > 500
    assert counts.samples == len({moment for moment, _ in counted.results})
    assert counts.censored == sum(censored == "<" for _, censored in counted.results.values()) > 0
    refused = {f"{note.column}{note.row}" for note in plan.notes if note.severity == "refused"}
    assert refused == counted.wrong
    assert counts.refused == len(counted.wrong) == 4


def test_initials_become_names(counted: Counted, plan: ImportPlan) -> None:
    """Two pairs of initials in one cell are nobody's: kept as written, and doubtful."""
    for sample in plan.samples:
        written = counted.by[sample.at.astimezone(ZONE).replace(tzinfo=None)]
        assert sample.by == NAMES.get(written, written)
    doubtful = [note.text for note in plan.notes if note.severity == "doubtful"]
    assert doubtful == [text for text in counted.by.values() if text not in NAMES] == ["MO/SK"]


def test_remarks_of_the_sheet_are_kept(plan: ImportPlan) -> None:
    """What the technicians wrote beside their figures stands in the notes of the samples."""
    remarks = [
        str(row[20].value)
        for row in openpyxl.load_workbook(BOOK)["Sand 2025"].iter_rows(min_row=7)
        if row[20].value
    ]
    assert len(remarks) >= 3
    for remark in remarks:
        assert sum(sample.note.endswith(f"; {remark}") for sample in plan.samples) == 1


def test_importing_the_workbook_twice_adds_nothing_by_key(plan: ImportPlan, haldmoor: Specs) -> None:
    """The same file at another time by another person gives the very same ids."""
    mapping = load_mapping(SAMPLES / "mapping.toml", haldmoor)
    again = plan_import(BOOK, mapping, specs=haldmoor, now=datetime(2027, 1, 1, tzinfo=UTC), by="Other")
    assert {sample.id for sample in again.samples} == {sample.id for sample in plan.samples}
    assert len({sample.id for sample in plan.samples}) == plan.counts.samples
