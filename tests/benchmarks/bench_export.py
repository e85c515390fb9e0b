"""Years of one sand system exported, against plain polars and XlsxWriter writing the same tables."""

from __future__ import annotations

import argparse
import sqlite3
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import polars as pl

from sandlab.lab.exporting import Format, export
from sandlab.lab.opening import DATABASE, Lab, open_lab
from sandlab.lab.periods import Period
from sandlab.reporting.taking_back import read_export
from sandlab.store import KINDS, open_store
from tests.benchmarks.bench_overview import PER_YEAR, PROPERTIES, fill


def main(argv: list[str]) -> None:
    """Print seconds and ratios for each format; with --long also all results in a workbook."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks export")
    parser.add_argument("--years", type=int, default=10)
    parser.add_argument("--long", action="store_true", help="the million single results in a workbook too")
    args = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        store = open_store(folder / "plant" / DATABASE)
        fill(store, args.years * PER_YEAR)
        store.close()
        print(f"{args.years} years: {args.years * PER_YEAR} samples x {len(PROPERTIES)} results")
        lab = open_lab(folder / "plant", readonly=True)
        for format in ("csv", "parquet"):
            measure(lab, folder, format, ("tests", "results"))
        measure(lab, folder, "xlsx", ("tests",))
        if args.long:
            measure(lab, folder, "xlsx", ("results",))
        back(lab, folder)
        lab.close()


def measure(lab: Lab, folder: Path, format: Format, kinds: tuple[str, ...]) -> None:
    """One format both ways, each once after the other has warmed the file up."""
    ending = ".xlsx" if format == "xlsx" else ""
    plain(lab, folder / "warm", "parquet", ("tests",))
    theirs = timed(lambda: plain(lab, folder / f"plain_{format}_{kinds[0]}", format, kinds))
    out = folder / f"own_{format}_{kinds[0]}{ending}"
    ours = timed(lambda: export(lab, out, format=format, period=Period(), kinds=kinds))
    size = sum(path.stat().st_size for path in ([out] if out.is_file() else out.iterdir())) / 1e6
    name = f"{format}, {' and '.join(kinds)}"
    print(f"{name:28} {ours:7.2f} s {ours / theirs:6.2f} x plain polars ({theirs:.2f} s), {size:.0f} MB")


def back(lab: Lab, folder: Path) -> None:
    """Reading a year back into records, against polars reading the same files into frames."""
    out = folder / "year"
    first = lab.store.table("samples", lab.system)["at"][PER_YEAR - 1]
    export(lab, out, format="parquet", period=Period(None, first), kinds=("samples", "results", "specs"))
    theirs = timed(lambda: [pl.read_parquet(path) for path in out.glob("*.parquet")])
    ours = timed(lambda: read_export(out, KINDS))
    print(
        f"{'one year read back':28} {ours:7.2f} s as checked records; polars alone {theirs:.2f} s as frames"
    )


def plain(lab: Lab, out: Path, format: Format, kinds: tuple[str, ...]) -> None:
    """The same tables with sqlite3 and polars alone: values in force, long and wide."""
    with sqlite3.connect(f"{(lab.folder / DATABASE).as_uri()}?mode=ro", uri=True) as connection:
        cursor = connection.execute("SELECT * FROM results ORDER BY property, taken_at, sample, revision")
        names = [column[0] for column in cursor.description]
        long = pl.DataFrame(cursor.fetchall(), schema=names, orient="row", infer_schema_length=None)
    long = long.with_columns(pl.from_epoch("taken_at", "us"), pl.from_epoch("recorded_at", "us"))
    wide = long.pivot("property", index=["sample", "taken_at"], values="value").sort("taken_at")
    out.mkdir(exist_ok=True)
    for name, frame in (("results", long), ("tests", wide)):
        if name not in kinds:
            continue
        if format == "csv":
            frame.write_csv(out / f"{name}.csv")
        elif format == "parquet":
            frame.write_parquet(out / f"{name}.parquet")
        else:
            frame.head(1_048_000).write_excel(out / f"{name}.xlsx", autofit=False)


def timed(task: Callable[[], object]) -> float:
    """Seconds of one call."""
    start = perf_counter()
    task()
    return perf_counter() - start
