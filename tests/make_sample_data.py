"""Writes the invented foundry's files into `sample_data/`: `python -m tests.make_sample_data`.

The specs overlay and the mapping in that folder are written by hand; everything else comes from here.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import openpyxl

from sandlab import specs
from sandlab.plant import DEMO_DAYS, DEMO_FAULTS, DEMO_SEED, ZONE, History, Sheet, old_workbook, simulate
from sandlab.plant.calendar import Calendar
from sandlab.plant.faults import BASELINE_FROM_H, BASELINE_TO_H
from sandlab.plant.history import WARM_UP
from tests.damaged_files import damaged_files, saved

FOLDER = Path(__file__).parents[1] / "sample_data"
UNTIL = datetime(2025, 5, 23, 12, tzinfo=UTC)
CSV_DAYS = 14


def committed_history() -> History:
    """The history behind the CSV files: the demo's seed and faults with a fixed end."""
    return simulate(DEMO_SEED, UNTIL, specs_hash=specs.load(FOLDER / "specs").hash)


def text_files() -> dict[str, str]:
    """Name and text of every CSV file and of about.toml."""
    history = committed_history()
    units = {name: entry.unit for name, entry in specs.load(FOLDER / "specs").properties.items()}
    first = UNTIL - timedelta(days=CSV_DAYS)
    samples = [
        (
            sample.id,
            _local(sample.at),
            sample.point,
            result.property,
            f"{result.value:.6g}",
            units[result.property],
            sample.by,
        )
        for sample in history.samples
        if sample.at >= first
        for result in sample.results
    ]
    batches = [
        (batch.number, _local(batch.at), batch.return_sand_kg, *batch.added_kg.values(), batch.by)
        for batch in history.batches
        if batch.at >= first
    ]
    receipts = [
        (_local(entry.at), entry.material, entry.lot, entry.kg, entry.assay.get("active_clay", ""), entry.by)
        for entry in history.receipts
        if entry.at >= first
    ]
    production = [
        (
            _local(entry.at),
            _local(entry.until),
            entry.job,
            entry.metal_t,
            entry.sand_to_metal,
            entry.core_sand_t,
        )
        for entry in history.production
        if entry.at >= first
    ]
    events = [
        (_local(entry.at), entry.kind, entry.text, entry.by) for entry in history.events if entry.at >= first
    ]
    return {
        "samples.csv": _csv("sample,time,point,property,value,unit,by", samples),
        "batches.csv": _csv(
            "number,time,return_sand_kg,water_kg,bentonite_kg,carbon_kg,new_sand_kg,by", batches
        ),
        "receipts.csv": _csv("time,material,lot,kg,active_clay_assay,by", receipts),
        "production.csv": _csv("from,until,job,metal_t,sand_to_metal,core_sand_t", production),
        "events.csv": _csv("time,kind,text,by", events),
        "about.toml": about(),
    }


def _local(moment: datetime) -> str:
    return moment.astimezone(ZoneInfo(ZONE)).isoformat(timespec="minutes")


def _csv(head: str, rows: Iterable[Sequence[object]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(head.split(","))
    writer.writerows(rows)
    return text.getvalue()


def about() -> str:
    """Everything planted in the history, and where nothing is."""
    calendar = Calendar(UNTIL - timedelta(days=DEMO_DAYS) - WARM_UP, UNTIL, ZoneInfo(ZONE))
    lines = [
        "# What is planted in the simulated history of Haldmoor Castings, an invented foundry.",
        "# Hours are running hours, Monday 06:00 to Saturday 06:00 local time, back from the history's end.",
        "# size_sd: greatest mean departure of the property, in standard deviations of its quiet baseline.",
        "# A chart with limits from that baseline must flag it within greatest_delay_h.",
        "",
        "[history]",
        f"seed = {DEMO_SEED}",
        f"until = {UNTIL:%Y-%m-%dT%H:%M:%SZ}",
        f"days = {DEMO_DAYS}",
        f'time_zone = "{ZONE}"',
        "",
        "[quiet_baseline]",
        f"from_h = {BASELINE_FROM_H}",
        f"to_h = {BASELINE_TO_H}",
        f"from = {calendar.before_end(BASELINE_FROM_H):%Y-%m-%dT%H:%M:%SZ}",
        f"to = {calendar.before_end(BASELINE_TO_H):%Y-%m-%dT%H:%M:%SZ}",
    ]
    for fault in DEMO_FAULTS:
        lines += [
            "",
            f"[faults.{fault.id}]",
            f'what = "{fault.what}"',
            f'acts_on = "{fault.kind}"',
            f'property = "{fault.property}"',
            f'point = "{fault.point}"',
            f'side = "{fault.side}"',
            f"start_h = {fault.start_h}",
            f"start = {calendar.before_end(fault.start_h):%Y-%m-%dT%H:%M:%SZ}",
            f"duration_h = {min(fault.duration_h, fault.start_h)}",
            f"amount = {fault.amount}",
            f"ramp_h = {fault.ramp_h}",
            f"size_sd = {fault.size_sd}",
            f"greatest_delay_h = {fault.greatest_delay_h}",
        ]
    return "\n".join(lines) + "\n"


def workbook_bytes(sheets: Iterable[Sheet]) -> bytes:
    """The old workbook as an XLSX file."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for sheet in sheets:
        page = book.create_sheet(sheet.name)
        for (row, column), value in sorted(sheet.cells.items(), key=lambda entry: entry[0]):
            cell = page.cell(row, column, value)
            if isinstance(value, datetime):
                cell.number_format = "dd.mm.yyyy"
        for top, left, bottom, right in sheet.merges:
            page.merge_cells(start_row=top, start_column=left, end_row=bottom, end_column=right)
    return saved(book)


def main() -> None:
    """Writes every file that is not written by hand."""
    workbook = workbook_bytes(old_workbook())
    (FOLDER / "old_workbook.xlsx").write_bytes(workbook)
    for name, text in text_files().items():
        (FOLDER / name).write_text(text, encoding="utf-8", newline="\n")
    (FOLDER / "damaged").mkdir(exist_ok=True)
    for name, content in damaged_files().items():
        (FOLDER / "damaged" / name).write_bytes(content)


if __name__ == "__main__":
    main()
