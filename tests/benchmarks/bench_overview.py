"""Years of one sand system from the store to an overview of every property, and one long chart recomputed."""

from __future__ import annotations

import argparse
import hashlib
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import perf_counter
from uuid import UUID

import numpy as np

from sandlab import charts
from sandlab.lab.series import slotted
from sandlab.records import Result, Sample
from sandlab.store import Store, open_store

SYSTEM = "main"
START = datetime(2016, 1, 1, tzinfo=UTC)
PER_YEAR = 9_000
PROPERTIES = tuple(f"property_{number}" for number in range(12))
SPECS_TEXT = "{}"
SPECS_HASH = hashlib.sha256(SPECS_TEXT.encode()).hexdigest()
BASELINE = 300
BLOCK = 9_000
SPREAD = 0x9E3779B97F4A7C15F39CC0605CEDC835


def main(argv: list[str]) -> None:
    """Print seconds and shares for 1 and 10 years, with --long for 100 years too."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks overview")
    parser.add_argument("--years", type=int, nargs="*", default=[1, 10])
    parser.add_argument("--long", action="store_true", help="100 years too: about 11 million results on disk")
    args = parser.parse_args(argv)
    # What is imported at the first use is no part of any history.
    charted(np.random.default_rng(1).normal(50.0, 2.0, 1000))
    per_sample: dict[int, float] = {}
    for years in [*args.years, *([100] if args.long else [])]:
        per_sample[years] = measure(years)
    first = next(iter(per_sample.values()))
    for years, cost in per_sample.items():
        print(f"{years:4} years: {cost / first:5.2f} x the cost per result of the first line")


def measure(years: int) -> float:
    """One history: filled, read, charted; seconds per result from the store to the overview."""
    count = years * PER_YEAR
    with tempfile.TemporaryDirectory() as folder:
        store = open_store(Path(folder) / "records.sqlite")
        start = perf_counter()
        fill(store, count)
        size = (Path(folder) / "records.sqlite").stat().st_size / 1e6
        print(f"\n{years} years: {count} samples x {len(PROPERTIES)}, {size:.0f} MB, filled in "
              f"{perf_counter() - start:.1f} s")  # fmt: skip
        reading, charting, signals = overview(store)
        whole = reading + charting
        print(f"  store to overview {whole:7.2f} s, of which reading {100 * reading / whole:.0f} %; "
              f"{signals} signals, EWMA and autocorrelation of {len(PROPERTIES)} properties")  # fmt: skip
        one_chart(store, count)
        store.close()
    return whole / (count * len(PROPERTIES))


def fill(store: Store, count: int) -> None:
    """Save a history in blocks, so that memory stays small; each property resembles its neighbours."""
    draw = np.random.default_rng(31)
    levels = np.zeros(len(PROPERTIES))
    for first in range(0, count, BLOCK):
        samples = []
        for number in range(first, min(first + BLOCK, count)):
            levels = 0.4 * levels + 0.9165 * draw.normal(size=levels.size)
            samples.append(sample(number, (50.0 + 2.0 * levels).round(1).tolist()))
        store.save(samples, specs_texts={SPECS_HASH: SPECS_TEXT})


def sample(number: int, values: list[float]) -> Sample:
    """An hourly sample with its results."""
    at = START + timedelta(hours=number * 8760 / PER_YEAR)
    results = tuple(
        Result.model_construct(
            property=name,
            value=value,
            method="",
            censored="",
            flags=(),
            readings=(),
            known_at=None,
            revision=0,
        )
        for name, value in zip(PROPERTIES, values, strict=True)
    )
    return Sample.model_construct(
        id=str(UUID(int=(number + 1) * SPREAD % 2**128)),
        system=SYSTEM,
        at=at,
        by="A. Baker",
        recorded_at=at,
        revises=None,
        reason="",
        voided=False,
        point="muller",
        specs_hash=SPECS_HASH,
        source="simulated",
        note="",
        results=results,
    )


def overview(store: Store) -> tuple[float, float, int]:
    """Seconds of reading and of charting every property over its whole history, and the signals seen."""
    reading = charting = 0.0
    signals = 0
    for name in PROPERTIES:
        start = perf_counter()
        frame = store.results(SYSTEM, name, point="muller")
        read = perf_counter()
        values, _, _ = slotted(frame["taken_at"].dt.epoch("us").to_numpy(), frame["value"].to_numpy(), 60.0)
        signals += len(charted(values))
        reading += read - start
        charting += perf_counter() - read
    return reading, charting, signals


def charted(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[charts.Signal, ...]:
    """Limits, all rules with their reasons, EWMA and autocorrelation of one property."""
    limits = charts.freeze(values[:BASELINE])
    chart = charts.individuals(values, None, limits)
    charts.ewma(values, limits)
    charts.fit_autoregression(values)
    return chart.signals


def one_chart(store: Store, count: int) -> None:
    """One whole chart recomputed, as a ratio to reading it from the store: no state is kept between."""
    reads, makes = [], []
    for _ in range(3):
        start = perf_counter()
        frame = store.results(SYSTEM, PROPERTIES[0], point="muller")
        read = perf_counter()
        values = frame["value"].to_numpy()
        limits = charts.freeze(values[:BASELINE])
        charts.completions(values, limits)
        charts.ewma(values, limits)
        reads.append(read - start)
        makes.append(perf_counter() - read)
    print(f"  one chart of {count} points: limits, rules and EWMA cost {min(makes) / min(reads):.2f} of "
          f"reading it ({min(makes) * 1e3:.0f} ms of {min(reads) * 1e3:.0f} ms)")  # fmt: skip


if __name__ == "__main__":
    import sys

    main(sys.argv[1:])
