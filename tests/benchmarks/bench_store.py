"""The store against bare sqlite3: one save against one commit, a long history against one fetchall."""

from __future__ import annotations

import argparse
import hashlib
import sqlite3
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import perf_counter
from uuid import UUID

from sandlab.records import Event, Result, Sample
from sandlab.store import Store, open_store
from tests.benchmarks.timing import report, seconds

SYSTEM = "main"
START = datetime(2016, 1, 1, tzinfo=UTC)
PROPERTIES = ("compactability", "moisture", "green_compression_strength", "permeability", "specimen_weight")
SPECS_TEXT = "{}"
SPECS_HASH = hashlib.sha256(SPECS_TEXT.encode()).hexdigest()
ALL = (
    'SELECT taken_at, value, sample, point, method, censored, flags, revision, "by", recorded_at '
    f"FROM results WHERE system = '{SYSTEM}' AND property = 'moisture' ORDER BY taken_at"
)
COMMIT = "one bare sqlite3 commit"
FETCH = "bare sqlite3 fetchall, ten columns"


def main(argv: list[str]) -> None:
    """Print the cost of saves and of reading a history of the given number of samples."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks store")
    parser.add_argument("--count", type=int, default=90_000)
    count = parser.parse_args(argv).count
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "records.sqlite"
        store = open_store(path)
        fill(store, count)
        print(f"{path.stat().st_size / 1e6:.0f} MB")
        measure_reads(store, path, count)
        measure_saves(store, Path(folder) / "bare.sqlite", count)
        store.close()


def sample(number: int) -> Sample:
    """An hourly sample with five results; the same number gives the same id."""
    at = START + timedelta(hours=number)
    results = tuple(Result(property=name, value=40.0 + number % 7, method="as_shown") for name in PROPERTIES)
    return Sample(
        id=str(UUID(int=number * 0x9E3779B97F4A7C15F39CC0605CEDC835 % 2**128)),
        system=SYSTEM,
        at=at,
        by="A. Baker",
        recorded_at=at,
        point="muller",
        specs_hash=SPECS_HASH,
        source="simulated",
        results=results,
    )


def fill(store: Store, count: int) -> None:
    """Save a whole history in one transaction."""
    samples = [sample(number) for number in range(count)]
    start = perf_counter()
    store.save(samples, specs_texts={SPECS_HASH: SPECS_TEXT})
    taken = perf_counter() - start
    rows = count * len(PROPERTIES)
    print(f"{rows} results saved in one transaction in {taken:.2f} s ({taken / rows * 1e6:.1f} us each)")


def measure_reads(store: Store, path: Path, count: int) -> None:
    """All results of one property, the last ones, a few samples."""
    bare = sqlite3.connect(path, isolation_level=None)
    fetch = seconds(lambda: bare.execute(ALL).fetchall())
    bare.close()
    report(FETCH, fetch, fetch, FETCH)
    report(
        f"{count} results of a property as a frame",
        seconds(lambda: store.results(SYSTEM, "moisture")),
        fetch,
        FETCH,
    )
    report(
        "last 500 of a property", seconds(lambda: store.results(SYSTEM, "moisture", last=500)), fetch, FETCH
    )
    report("last 500 of five", seconds(lambda: store.results_of(SYSTEM, PROPERTIES, last=500)), fetch, FETCH)
    report("last 20 samples", seconds(lambda: store.samples(SYSTEM, last=20)), fetch, FETCH)
    report("change number", seconds(store.change_number), fetch, FETCH)


def measure_saves(store: Store, path: Path, count: int) -> None:
    """One sample, one note, and a commit of as many rows without any check."""
    bare = sqlite3.connect(path, isolation_level=None)
    bare.execute("PRAGMA journal_mode = TRUNCATE")
    bare.execute("PRAGMA synchronous = FULL")
    bare.execute("CREATE TABLE plain (number INTEGER, value REAL, text TEXT) STRICT")

    def commit() -> None:
        bare.execute("BEGIN IMMEDIATE")
        bare.executemany("INSERT INTO plain VALUES (1, 2.5, 'some text')", [()] * (1 + len(PROPERTIES)))
        bare.execute("COMMIT")

    baseline = seconds(commit, repeats=51)
    bare.close()
    numbers = iter(range(count, 2 * count))
    report(COMMIT, baseline, baseline, COMMIT)
    report(
        "save of one sample",
        seconds(lambda: store.save([sample(next(numbers))]), repeats=51),
        baseline,
        COMMIT,
    )

    def note() -> None:
        at = START + timedelta(hours=next(numbers))
        event = Event(
            id=str(UUID(int=next(numbers))), system=SYSTEM, at=at, by="A", recorded_at=at, text="note"
        )
        store.save([event])

    report("save of one note", seconds(note, repeats=51), baseline, COMMIT)
