"""A plant with two days of tests that are the same on every run, copied for each test."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from math import sin
from pathlib import Path

import pytest

from sandlab.lab.advising import advise, release
from sandlab.lab.charting import add_event, freeze_baseline
from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.opening import Lab, open_lab
from tests.lab.conftest import Clock, Ids

NOW = datetime(2026, 3, 4, 13, 7, tzinfo=UTC)
HOURS = 40
PLANT = """[plant]
name = "Haldmoor Castings"

[plant.contacts.foundry_engineer]
label = "Foundry engineer on call"
phone = "4417"
"""


@pytest.fixture
def clock() -> Clock:
    """The terminal's clock."""
    return Clock(NOW)


@contextmanager
def lab_of(folder: Path, now: datetime = NOW) -> Iterator[Lab]:
    """Another handle on the plant's records, as another process has one."""
    lab = open_lab(folder, clock=lambda: now)
    yield lab
    lab.close()


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plant that is copied; its last samples drift out of the limits."""
    folder = tmp_path_factory.mktemp("plants") / "plant"
    (folder / "specs").mkdir(parents=True)
    (folder / "specs" / "system.toml").write_text(PLANT, encoding="utf-8")
    clock = Clock(NOW - timedelta(hours=HOURS))
    lab = open_lab(folder, clock=clock, new_id=Ids())
    for hour in range(HOURS):
        _sample(lab, hour)
        clock.move(hours=1)
    _limits(lab)
    add_event(lab, text="Ploughs set", by="RM", kind="maintenance", at=NOW - timedelta(hours=9))
    release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    lab.close()
    return folder


def _sample(lab: Lab, hour: int) -> None:
    drift = max(0, hour - HOURS + 5)
    wave = sin(hour * 1.7) + sin(hour * 0.61)
    texts = {
        "compactability": f"{42 + wave - 1.6 * drift:.0f}",
        "moisture": f"{3.3 + 0.06 * wave - 0.08 * drift:.2f}",
        "green_compression_strength": f"{160 - 4 * wave:.0f}",
        "permeability": f"{110 + 3 * sin(hour):.0f}",
        "specimen_weight": f"{152 + 0.8 * wave:.1f}",
        "sand_temperature": f"{33 + 2 * sin(hour / 5):.0f}",
    }
    entries = [Entry(name, text) for name, text in texts.items()]
    record_sample(lab, point="muller_discharge", by="JV" if hour % 16 < 8 else "SK", entries=entries)
    if hour % 8 == 0:
        clay = [Entry("active_clay", f"{8.0 + 0.1 * sin(hour):.2f}")]
        record_sample(lab, point="muller_discharge", by="JV", entries=clay)
    if hour % 2 == 0:
        belt = [Entry("return_moisture", f"{2.1 + 0.1 * sin(hour):.2f}"), Entry("return_temperature", "31")]
        record_sample(lab, point="return_belt", by="JV", entries=belt)


def _limits(lab: Lab) -> None:
    start = NOW - timedelta(hours=HOURS)
    for name in ("compactability", "moisture", "green_compression_strength", "permeability"):
        freeze_baseline(
            lab,
            name,
            window_from=start,
            window_to=start + timedelta(hours=30),
            by="MO",
            reason="quiet after the overhaul",
        )


@pytest.fixture
def plant(template: Path, tmp_path: Path) -> Path:
    """A copy of the plant with its two days of tests."""
    return Path(shutil.copytree(template, tmp_path / "plant"))


@pytest.fixture
def running(empty: Path) -> Path:
    """A plant in which all is well: tests on target, clay and volatiles known, additions released."""
    clock = Clock(NOW - timedelta(hours=4))
    lab = open_lab(empty, clock=clock, new_id=Ids())
    for hour in range(3):
        _sample(lab, hour)
        clock.move(hours=1)
    record_sample(
        lab,
        point="muller_discharge",
        by="JV",
        entries=[Entry("active_clay", "7.9"), Entry("volatiles", "1.5")],
    )
    clock.move(minutes=40)
    _sample(lab, 4)
    clock.move(minutes=9)
    release(lab, recommendation=advise(lab, by="JV").recommendation, by="JV")
    lab.close()
    return empty


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    """A plant in which nothing is recorded yet."""
    folder = tmp_path / "empty"
    (folder / "specs").mkdir(parents=True)
    (folder / "specs" / "system.toml").write_text(PLANT, encoding="utf-8")
    return folder


Recorded = Callable[[Path, str], list[object]]
