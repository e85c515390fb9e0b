"""Ten days of a small line with batches, production and tests that are the same on every run."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from math import sin
from pathlib import Path

from sandlab.lab.opening import Lab, open_lab
from sandlab.records import Batch, Production, Receipt, Record, Result, Sample
from tests.lab.conftest import Ids

SYSTEM = """[plant]
name = "Haldmoor Castings"

[systems.main.muller]
batches_per_h = 2.0

[systems.main.stock]
sand_t = 20.0
"""
JOBS = (("gully grate", 5.6, 0.02), ("manhole frame", 6.6, 0.10))
EVERY_MIN = 30
DAYS = 10


def write_specs(folder: Path) -> None:
    """A line of two batches an hour."""
    (folder / "specs").mkdir(parents=True)
    (folder / "specs" / "system.toml").write_text(SYSTEM, encoding="utf-8")


@contextmanager
def sand_line(
    folder: Path, now: datetime, *, days: float = DAYS, bentonite: float = 10.5, tested: bool = True
) -> Iterator[Lab]:
    """The line with its days up to `now`, newly written below `folder` and open."""
    write_specs(folder)
    lab = open_lab(folder, clock=lambda: now, new_id=Ids())
    try:
        fill(lab, now, days=days, bentonite=bentonite, tested=tested)
        yield lab
    finally:
        lab.close()


def fill(
    lab: Lab, until: datetime, *, days: float = DAYS, bentonite: float = 10.5, tested: bool = True
) -> None:
    """The days before `until`: what was poured, made and tested."""
    start = until - timedelta(days=days)
    records = [
        *_produced(lab, start, until),
        *_made(lab, start, until, bentonite),
        *(_tested(lab, start, until) if tested else ()),
    ]
    receipt = _head(lab, start) | {"material": "bentonite", "lot": "B-17", "kg": 24000.0}
    records.append(Receipt.model_validate(receipt | {"assay": {"active_clay": 98.0}}))
    lab.store.save(records, specs_texts={lab.specs.hash: lab.specs.canonical_text})


def _head(lab: Lab, at: datetime) -> dict[str, object]:
    return {"id": lab.new_id(), "system": lab.system, "at": at, "by": "JV", "recorded_at": at}


def _moments(start: datetime, until: datetime, every: timedelta) -> Iterator[tuple[int, datetime]]:
    count = 0
    while start < until:
        yield count, start
        count, start = count + 1, start + every


def _produced(lab: Lab, start: datetime, until: datetime) -> Iterator[Record]:
    for count, at in _moments(start, until, timedelta(hours=8)):
        job, ratio, core = JOBS[count % 2]
        metal = 8.0 * 2.0 * 1.5 / ratio
        yield Production.model_validate(
            _head(lab, at)
            | {
                "until": at + timedelta(hours=8),
                "job": job,
                "metal_t": metal,
                "sand_to_metal": ratio,
                "core_sand_t": core * metal,
            }
        )


def _made(lab: Lab, start: datetime, until: datetime, bentonite: float) -> Iterator[Record]:
    for count, at in _moments(start, until, timedelta(minutes=EVERY_MIN)):
        wave = sin(count * 0.7)
        added = {
            "water": 28.0 + round(2.0 * wave) / 2.0,
            "bentonite": bentonite,
            "carbon": 9.5 + (0.5 if count % 3 == 0 else 0.0),
            "new_sand": 20.0,
        }
        yield Batch.model_validate(
            _head(lab, at) | {"number": count + 1, "return_sand_kg": 1500.0, "added_kg": added}
        )


def _tested(lab: Lab, start: datetime, until: datetime) -> Iterator[Record]:
    def sample(at: datetime, point: str, values: dict[str, float]) -> Record:
        results = tuple(Result(property=name, value=round(value, 3)) for name, value in values.items())
        content = {"point": point, "specs_hash": lab.specs.hash, "results": results}
        return Sample.model_validate(_head(lab, at) | content)

    for count, at in _moments(start, until, timedelta(hours=1)):
        wave: Callable[[float], float] = lambda pace, count=count: sin(count * pace)  # noqa: E731
        values = {
            "compactability": 42.0 + 1.6 * wave(1.7),
            "moisture": 3.4 + 0.05 * wave(1.7) + 0.03 * wave(2.9),
            "green_compression_strength": 152.0 + 5.0 * wave(0.9),
            "sand_temperature": 34.0 + 2.0 * wave(0.26),
        }
        if count % 8 == 3:
            values["active_clay"] = 7.9 + 0.15 * wave(0.61)
        if count % 24 == 5:
            values |= {"volatiles": 1.35 + 0.05 * wave(1.3), "loss_on_ignition": 3.9 + 0.1 * wave(1.1)}
        if count % 120 == 9:
            values["afs_clay"] = 13.1 + 0.2 * wave(1.9)
        yield sample(at + timedelta(minutes=1), "muller_discharge", values)
        if count % 2 == 0:
            belt = {"return_moisture": 2.2 + 0.1 * wave(0.8), "return_temperature": 38.0 + 2.0 * wave(0.26)}
            yield sample(at + timedelta(minutes=2), "return_belt", belt)
