"""Importing a long file against plain polars reading the same file; --rows 100000 for ten years."""

from __future__ import annotations

import argparse
import random
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import perf_counter

import polars as pl
import xlsxwriter

from sandlab.exchange import read_grid
from sandlab.lab import importing
from sandlab.lab.opening import open_lab
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
# From here on everything is run once: it takes seconds.
ONCE_FROM = 50_000
NOW = datetime(2100, 1, 1, tzinfo=UTC)
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


def write_text(path: Path) -> None:
    """The same rows as a text table with semicolons and decimal commas."""
    frame = pl.read_excel(path.with_suffix(".xlsx"), engine="calamine", infer_schema_length=0)
    frame.write_csv(path, separator=";")


def main(argv: list[str]) -> None:
    """Print the cost of reading, planning and saving at several lengths, beside plain polars."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks exchange")
    parser.add_argument("--rows", type=int, nargs="*", default=[1_000, 10_000])
    for rows in parser.parse_args(argv).rows:
        with tempfile.TemporaryDirectory() as folder:
            measure(Path(folder), rows)


def measure(folder: Path, rows: int) -> None:
    """Measure one length: the workbook, then the same rows as text, against what polars alone takes."""
    path, mapping_path = folder / "book.xlsx", folder / "mapping.toml"
    write_book(path, rows)
    write_mapping(mapping_path)
    write_text(folder / "book.csv")
    once = rows >= ONCE_FROM
    baseline = timed(lambda: pl.read_excel(path, engine="calamine"), once=once)
    print(f"{rows} rows of a workbook")
    report(BASELINE, baseline, baseline, BASELINE)
    grid = timed(lambda: read_grid(path, "tests"), once=once)
    report("every cell as text, in its place", grid, baseline, BASELINE)
    _whole(folder, path, mapping_path, baseline, BASELINE, once=once)
    text = folder / "book.csv"
    plain = "polars.read_csv"
    baseline = timed(lambda: pl.read_csv(text, separator=";", infer_schema_length=0), once=once)
    print(f"{rows} rows of text")
    report(plain, baseline, baseline, plain)
    _whole(folder, text, None, baseline, plain, once=once)


def _whole(folder: Path, path: Path, mapping: Path | None, baseline: float, name: str, *, once: bool) -> None:
    """Dry run, saving, and the same file once more; without a mapping one is proposed first."""
    lab = open_lab(folder / path.suffix[1:], clock=lambda: NOW)
    if mapping is None:
        proposing = timed(lambda: importing.choose_mapping(lab, path, None), once=True)
        report("a mapping proposed", proposing, baseline, name)
    dry = timed(lambda: importing.prepare(lab, path, mapping, by="B"), once=once)
    report("dry run: samples, ids, notes, conflicts", dry, baseline, name)
    prepared = importing.prepare(lab, path, mapping, by="B")
    print(f"  {prepared.plan.counts.samples} samples, {prepared.plan.counts.results} results")
    saving = timed(lambda: importing.save(lab, prepared), once=True)
    report("saved, with what is derived", saving, baseline, name)
    again = timed(lambda: importing.prepare(lab, path, mapping, by="B"), once=True)
    report("dry run of the same file again", again, baseline, name)
    lab.close()


def timed(work: Callable[[], object], *, once: bool) -> float:
    """The median of several runs, or one run of what is long or cannot be repeated."""
    if not once:
        return seconds(work)
    start = perf_counter()
    work()
    return perf_counter() - start
