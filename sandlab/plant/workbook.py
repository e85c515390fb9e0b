"""The foundry's old laboratory workbook as plain cells, the way such workbooks really look.

Two shifts side by side, heads over several rows, dates as dates and as text, decimal commas here and there, a
typed 0.0 for "not tested", rows copied twice, averages in between, and slips of the keyboard.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sandlab.plant.history import ZONE, History, simulate
from sandlab.records import Sample

Cell = str | float | datetime | time
SEED = 1925
UNTIL = datetime(2025, 4, 25, 22, tzinfo=UTC)
FIRST_DAY = datetime(2025, 4, 7)  # noqa: DTZ001 - a cell of a spreadsheet has no time zone
DAYS = 19
KPA_PER_NEWTON_CM2 = 10.0

INITIALS = {"M. Oduya": "MO", "T. Brandvik": "TB", "S. Kettering": "SK"}
# Property, head, decimals in the sheet, factor from the catalogue's unit.
COLUMNS = (
    ("compactability", "CB [%]", 0, 1.0),
    ("moisture", "Moist. [%]", 2, 1.0),
    ("green_compression_strength", "GCS [N/cm2]", 1, 1.0 / KPA_PER_NEWTON_CM2),
    ("permeability", "Perm.", 0, 1.0),
    ("specimen_weight", "Spec. wt [g]", 1, 1.0),
    ("sand_temperature", "Temp. [°C]", 0, 1.0),
    ("active_clay", "MB clay [%]", 2, 1.0),
)
WEEKLY = (
    ("volatiles", "Volatiles 482 °C [%]", 2),
    ("loss_on_ignition", "LOI [%]", 2),
    ("afs_clay", "AFS clay [%]", 1),
    ("grain_fineness_number", "GFN", 1),
    ("fines", "Fines [%]", 1),
)
EARLY, LATE, REMARKS = 2, 12, 21
SHIFT_HOURS = ((7, 9, 11, 13), (15, 17, 19, 21))
TARGETS = ("38-46", "3,1-3,8", "13,8-17,8", "90-130", "148-153", "< 40", "7,4-8,6")
HEAD_ROW, TARGET_ROW, FIRST_ROW = 5, 6, 7


@dataclass(slots=True)
class Sheet:
    """One sheet: cells by row and column (both from 1), and merged areas as (row, column, row, column)."""

    name: str
    cells: dict[tuple[int, int], Cell] = field(default_factory=dict)
    merges: list[tuple[int, int, int, int]] = field(default_factory=list)

    def put(self, row: int, column: int, *values: Cell | None) -> None:
        """Writes values side by side; None leaves a cell blank."""
        for offset, value in enumerate(values):
            if value is not None:
                self.cells[row, column + offset] = value


def old_workbook() -> tuple[Sheet, ...]:
    """The sheets of the old workbook: two-hourly tests, weekly tests, and a page of scribbles."""
    history = simulate(SEED, UNTIL, days=DAYS, faults=None, specs_hash="")
    return _tests(history), _weekly(history), _scribbles()


def _tests(history: History) -> Sheet:
    sheet = Sheet("Sand 2025")
    _heads(sheet)
    values = _by_hour(history)
    row = FIRST_ROW
    for number, day in enumerate(_working_days()):
        if day.weekday() == 0:
            sheet.put(row, 1, f"Week {day.isocalendar().week}")
            sheet.merges.append((row, 1, row, REMARKS))
            row += 1
        row = _day(sheet, row, number, day, values)
    _slips(sheet)
    return sheet


def _heads(sheet: Sheet) -> None:
    sheet.put(1, 1, "HALDMOOR CASTINGS  -  SAND LABORATORY  -  LINE 1")
    sheet.put(2, 1, "Samples from the muller discharge. Please write clearly & do not insert columns!")
    sheet.put(4, EARLY, "Early shift 06-14")
    sheet.put(4, LATE, "Late shift 14-22")
    sheet.merges += [
        (1, 1, 1, REMARKS),
        (2, 1, 2, REMARKS),
        (4, EARLY, 4, EARLY + 8),
        (4, LATE, 4, LATE + 8),
    ]
    heads = ("Time", *(head for _, head, _, _ in COLUMNS), "Tech.")
    sheet.put(HEAD_ROW, 1, "Date")
    sheet.put(TARGET_ROW, 1, "target")
    for first in (EARLY, LATE):
        sheet.put(HEAD_ROW, first, *heads)
        sheet.put(TARGET_ROW, first + 1, *TARGETS)
    sheet.put(HEAD_ROW, REMARKS, "Remarks")


def _working_days() -> Iterator[datetime]:
    for number in range(DAYS):
        day = FIRST_DAY + timedelta(days=number)
        if day.weekday() < 5:
            yield day


def _by_hour(history: History) -> dict[tuple[str, int], dict[str, float | str]]:
    """Results by local day and hour; the technician under "by"."""
    zone, found = ZoneInfo(ZONE), dict[tuple[str, int], dict[str, float | str]]()
    for sample in history.samples:
        if sample.point == "muller_discharge":
            local = sample.at.astimezone(zone)
            entry = found.setdefault((f"{local:%Y-%m-%d}", local.hour), {})
            entry.update(_values(sample))
            entry["by"] = INITIALS[sample.by]
    return found


def _values(sample: Sample) -> dict[str, float]:
    return {result.property: result.value for result in sample.results if result.value is not None}


def _day(
    sheet: Sheet, row: int, number: int, day: datetime, values: dict[tuple[str, int], dict[str, float | str]]
) -> int:
    """Four rows and their average; the date stands in the first only. Returns the next free row."""
    first = row
    sheet.put(row, 1, _date_cell(number, day))
    sheet.merges.append((row, 1, row + 3, 1))
    for place in range(4):
        for start, hours, late in ((EARLY, SHIFT_HOURS[0], False), (LATE, SHIFT_HOURS[1], True)):
            hour = hours[place]
            entry = values.get((f"{day:%Y-%m-%d}", hour))
            if entry is not None:
                clock: Cell = time(hour) if number // 5 == 1 else f"{hour:02d}:00"
                sheet.put(row, start, clock, *_row(entry, number, late), str(entry["by"]))
        row += 1
    if number == 8:  # copied twice: the same two tests once more
        for copied in (first, first + 1):
            for column in range(EARLY, LATE + 9):
                if (copied, column) in sheet.cells:
                    sheet.cells[row, column] = sheet.cells[copied, column]
            row += 1
    sheet.put(row, 1, "Average")
    for start in (EARLY, LATE):
        sheet.put(row, start + 1, *_averages(sheet, first, start))
    return row + 1


def _date_cell(number: int, day: datetime) -> Cell:
    if number in (2, 3):
        return f"{day:%d.%m.%Y}"
    if number == 6:
        return f"{day:%d/%m/%y}"
    return day


def _row(entry: dict[str, float | str], number: int, late: bool) -> Iterator[Cell | None]:
    """The cells of one test: numbers as a rule, text with a comma by one person, 0.0 for "not tested"."""
    for name, _, decimals, factor in COLUMNS:
        value = entry.get(name)
        if name == "permeability" and number == 4 and late:
            yield "n/a"
        elif value is None:
            yield 0.0 if name == "active_clay" and number >= 5 else None
        elif entry["by"] == "TB" and number < 10 and name in ("moisture", "green_compression_strength"):
            yield f"{float(value) * factor:.{decimals}f}".replace(".", ",")
        else:
            yield round(float(value) * factor, decimals)


def _averages(sheet: Sheet, first: int, start: int) -> Iterator[Cell | None]:
    """What the old formulas left behind: text cells do not count, and zeros pull the clay down."""
    for offset, (_, _, decimals, _) in enumerate(COLUMNS):
        cells = [sheet.cells.get((row, start + 1 + offset)) for row in range(first, first + 4)]
        numbers = [cell for cell in cells if isinstance(cell, float | int)]
        yield round(sum(numbers) / len(numbers), decimals) if numbers else "-"


def _slips(sheet: Sheet) -> None:
    """Slips and remarks, at rows counted from the first row of tests."""
    rows = [row for (row, column) in sorted(sheet.cells) if column == EARLY and row >= FIRST_ROW]
    remark = sheet.put
    sheet.cells[rows[5], EARLY + 2] = "3,4,1"
    sheet.cells[rows[9], EARLY + 1] = "4O"
    sheet.cells[rows[14], EARLY + 3] = 160.0
    sheet.cells[rows[18], LATE + 2] = 34.6
    sheet.cells[rows[21], LATE + 8] = "MO/SK"
    sheet.cells[rows[26], EARLY + 8] = "sk"
    sheet.cells[rows[30], EARLY + 4] = "-"
    remark(rows[3], REMARKS, "sand felt dry, water +1 kg")
    remark(rows[12], REMARKS, "new lot bentonite")
    remark(rows[27], REMARKS, "balance checked with the 200 g weight")
    last = max(row for row, _ in sheet.cells)
    sheet.put(last + 2, 1, "New sheet from May, ask in the office.")


def _weekly(history: History) -> Sheet:
    sheet = Sheet("Weekly")
    sheet.put(1, 1, "Weekly and daily furnace tests")
    sheet.merges.append((1, 1, 1, 8))
    sheet.put(3, 1, "Date", "Time", *(head for _, head, _ in WEEKLY), "Tech.", "Remarks")
    row, zone = 4, ZoneInfo(ZONE)
    for sample in history.samples:
        values = _values(sample)
        if not values.keys() & {"volatiles", "afs_clay"}:
            continue
        local = sample.at.astimezone(zone)
        cells: list[Cell | None] = [
            round(values[name], decimals) if name in values else None for name, _, decimals in WEEKLY
        ]
        if row < 16 and values.get("fines", 2.0) < 2.0:
            cells[-1] = "< 2"
        day = datetime(local.year, local.month, local.day)  # noqa: DTZ001 - a cell has no time zone
        sheet.put(row, 1, day, f"{local:%H:%M}", *cells, INITIALS[sample.by])
        row += 1
    sheet.cells[6, 4] = "n/a"
    sheet.put(6, 9, "furnace off, repaired the same day")
    return sheet


def _scribbles() -> Sheet:
    sheet = Sheet("Notes")
    sheet.put(2, 2, "MB factor since January: 5.35 ml per %")
    sheet.put(3, 2, "Ring A. Tremayne (4417) if CB is off twice running")
    sheet.put(5, 2, "TODO ask for a new sheet, this one is getting slow")
    return sheet
