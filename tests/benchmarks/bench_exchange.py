"""Planning an import of a workbook against a plain polars.read_excel of the same file."""

from __future__ import annotations

import argparse
import random
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
import xlsxwriter

from sandlab.exchange import load_mapping, plan_import, read_grid
from sandlab.specs import load
from tests.benchmarks.timing import report, seconds

BASELINE = "polars.read_excel"
PROPERTIES = {
    "compactability": (42.0, 2.0, 0),
    "moisture": (3.3, 0.15, 2),
    "green_compression_strength": (160.0, 8.0, 0),
    "permeability": (110.0, 8.0, 0),
    "specimen_weight": (150.0, 2.0, 1),
    "sand_temperature": (34.0, 3.0, 0),
}
FIRST = datetime.fromisoformat("2020-01-01 00:00")


def write_book(path: Path, rows: int) -> None:
    """One row an hour with six properties and initials, one text with a decimal comma in ten."""
    chance = random.Random(10)
    book = xlsxwriter.Workbook(str(path), {"constant_memory": True})
    day = book.add_format({"num_format": "dd.mm.yyyy"})
    sheet = book.add_worksheet("tests")
    sheet.write_row(0, 0, ["Date", "Time", "By", *PROPERTIES])
    for row in range(rows):
        moment = FIRST + timedelta(hours=row)
        sheet.write_datetime(row + 1, 0, moment.replace(hour=0), day)
        sheet.write_row(row + 1, 1, [f"{moment:%H:%M}", chance.choice(("KD", "MW", "AL"))])
        for column, (centre, spread, decimals) in enumerate(PROPERTIES.values(), start=3):
            value = round(chance.gauss(centre, spread), decimals)
            sheet.write(row + 1, column, str(value).replace(".", ",") if chance.random() < 0.1 else value)
    book.close()


def write_mapping(path: Path) -> None:
    """The mapping of that sheet, each column by its head."""
    columns = "".join(f'{name} = {{ head = "{name}" }}\n' for name in PROPERTIES)
    path.write_text(
        'system = "main"\npoint = "muller_discharge"\n[technicians]\nKD = "K"\nMW = "M"\nAL = "A"\n'
        '[sheets.tests]\nname = "tests"\nhead_rows = [1]\nfirst_row = 2\ndate = { head = "Date" }\n'
        '[sheets.tests.blocks.all]\ntime = { head = "Time" }\ntechnician = { head = "By" }\n'
        f"[sheets.tests.blocks.all.columns]\n{columns}",
        encoding="utf-8",
    )


def main(argv: list[str]) -> None:
    """Print the cost of reading the cells and of the whole plan at several lengths."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks exchange")
    parser.add_argument("--rows", type=int, nargs="*", default=[1_000, 10_000])
    for rows in parser.parse_args(argv).rows:
        with tempfile.TemporaryDirectory() as folder:
            measure(Path(folder), rows)


def measure(folder: Path, rows: int) -> None:
    """Measure one length."""
    specs, now = load(), datetime(2100, 1, 1, tzinfo=UTC)
    path, mapping_path = folder / "book.xlsx", folder / "mapping.toml"
    write_book(path, rows)
    write_mapping(mapping_path)
    mapping = load_mapping(mapping_path, specs)
    plan = plan_import(path, mapping, specs=specs, now=now, by="B")
    print(f"{rows} rows: {plan.counts.samples} samples, {plan.counts.results} results")
    baseline = seconds(lambda: pl.read_excel(path, engine="calamine"))
    report(BASELINE, baseline, baseline, BASELINE)
    grid = seconds(lambda: read_grid(path, "tests"))
    report("every cell as text, in its place", grid, baseline, BASELINE)
    whole = seconds(lambda: plan_import(path, mapping, specs=specs, now=now, by="B"))
    report("whole plan: samples, ids and notes", whole, baseline, BASELINE)
