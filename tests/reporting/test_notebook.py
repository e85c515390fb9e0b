"""The read-only Python entry: frames of a plant, nothing written, nothing locked, nothing heavy on import."""

from __future__ import annotations

import hashlib
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import sandlab
from sandlab.errors import InputError, StoreError
from sandlab.lab.notebook import Plant
from sandlab.lab.opening import DATABASE, Lab
from sandlab.records import Event
from tests.store.examples import hours, make
from tests.test_imports import HEAVY, modules_after


@pytest.fixture
def plant(lab: Lab) -> Iterator[Plant]:
    """The plant of the records, opened for reading."""
    with sandlab.open_plant(lab.folder) as opened:
        yield opened


def test_results_come_wide_and_long_with_units(plant: Plant) -> None:
    """The values in force, under the catalogue's names."""
    long, wide = plant.results(), plant.tests()
    assert plant.units["moisture"] == "%"
    kept = long.filter(property="moisture").sort("taken_at")["value"].to_list()
    assert kept == wide["moisture"].drop_nulls().to_list() == [3.4, 3.45, 1 / 3]
    assert plant.revisions().filter(property="moisture").height == 9
    assert plant.results(since=hours(5))["value"].to_list() == [1 / 3]


def test_times_may_be_written_on_the_plants_clock(plant: Plant) -> None:
    """As text or as a time without an offset; what is no time and no table is told."""
    local = hours(5).astimezone(plant.zone).replace(tzinfo=None)
    for written in (local, local.isoformat(), hours(5).isoformat()):
        assert plant.results(since=written)["value"].to_list() == [1 / 3]
        assert plant.additions(since=written).height == plant.additions(since=hours(5)).height
    with pytest.raises(InputError, match="is not a time"):
        plant.tests(since="Monday")
    with pytest.raises(InputError, match="did you mean 'receipts'"):
        plant.table("receipt")


def test_records_come_in_force(plant: Plant) -> None:
    """Voided samples are gone; batches and additions have kilograms by feeder."""
    assert plant.samples().height == 4
    assert plant.batches().filter(number=7)["water_kg"].item() == 40.0
    decided = plant.additions().filter(feeder="water").select("decided", "kg").rows()
    assert sorted(decided) == [("overridden", 39.0), ("recommended", 41.5), ("released", 41.5)]
    limits = plant.baselines().select("lower", "centre", "upper").row(0)
    assert limits == pytest.approx((3.2 - 0.33, 3.2, 3.2 + 0.33))
    assert plant.events().height == 2
    assert plant.readings().height == 12
    assert plant.table("receipts").height == 2


def test_reading_writes_nothing_and_locks_nothing(lab: Lab) -> None:
    """Every file of the folder keeps its bytes, and others go on writing meanwhile."""
    before = fingerprint(lab.folder)
    with sandlab.open_plant(lab.folder) as plant:
        plant.tests()
        plant.batches()
        assert fingerprint(lab.folder) == before
        # An exclusive lock is refused while anybody holds another one.
        other = sqlite3.connect(lab.folder / DATABASE, timeout=0)
        other.execute("BEGIN EXCLUSIVE")
        other.rollback()
        other.close()
        lab.store.save([make(Event, text="written meanwhile")])
        assert plant.events().height == 3


def test_a_folder_without_records_is_refused_and_left_alone(tmp_path: Path) -> None:
    """Nothing is made where there is nothing."""
    with pytest.raises(StoreError, match="does not exist"):
        sandlab.open_plant(tmp_path / "nowhere")
    assert not list(tmp_path.iterdir())


def test_importing_the_package_loads_nothing_heavy() -> None:
    """A notebook that only asks for the version waits for nothing; opening loads what it needs."""
    assert not modules_after("import sandlab; sandlab.open_plant") & HEAVY
    code = "import sandlab; sandlab.open_plant('/nowhere')"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert "does not exist" in done.stderr


def fingerprint(folder: Path) -> dict[str, str]:
    """A digest of every file."""
    return {
        str(path): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }
