"""The committed files of the invented foundry are what the simulation gives, and nothing else."""

from __future__ import annotations

import csv
import io
import tomllib
from datetime import date, datetime, time

import openpyxl
import pytest

from sandlab.plant import DEMO_FAULTS, DEMO_SEED, ZONE, Sheet, old_workbook
from sandlab.specs import load
from tests.damaged_files import damaged_files
from tests.make_sample_data import FOLDER, text_files, workbook_bytes

BY_HAND = {"mapping.toml", "mapping_csv.toml"}


@pytest.fixture(scope="module")
def texts() -> dict[str, str]:
    """The text files, made anew."""
    return text_files()


@pytest.fixture(scope="module")
def sheets() -> dict[str, Sheet]:
    """The old workbook, made anew."""
    return {sheet.name: sheet for sheet in old_workbook()}


def test_text_files_are_the_simulation_s(texts: dict[str, str]) -> None:
    """`python -m tests.make_sample_data` would change nothing."""
    for name, text in texts.items():
        assert (FOLDER / name).read_text(encoding="utf-8") == text, name


def test_the_workbook_is_the_simulation_s(sheets: dict[str, Sheet]) -> None:
    """Cell by cell, with the merged areas."""
    written = openpyxl.load_workbook(FOLDER / "old_workbook.xlsx")
    again = openpyxl.load_workbook(io.BytesIO(workbook_bytes(sheets.values())))
    assert written.sheetnames == again.sheetnames == list(sheets)
    for page in written.worksheets:
        made = again[page.title]
        assert page.dimensions == made.dimensions
        assert {str(area) for area in page.merged_cells.ranges} == {str(a) for a in made.merged_cells.ranges}
        for row, other in zip(page.iter_rows(), made.iter_rows(), strict=True):
            assert [cell.value for cell in row] == [cell.value for cell in other]


def test_damaged_files_are_small_and_as_described() -> None:
    """One fault each, under 5 kB; the truncated workbook is the start of one."""
    files = damaged_files()
    assert {path.name for path in (FOLDER / "damaged").iterdir()} == set(files)
    for name, content in files.items():
        committed = (FOLDER / "damaged" / name).read_bytes()
        assert len(committed) < 5000
        if name.endswith(".csv"):
            assert committed == content
        else:
            assert committed[:4] == content[:4] == b"PK\x03\x04"
            assert b"PK\x05\x06" not in committed


def test_the_folder_holds_nothing_else(texts: dict[str, str]) -> None:
    """Files, sizes: all of it under 1.5 MB."""
    names = {path.name for path in FOLDER.iterdir()}
    assert names == {*texts, *BY_HAND, "old_workbook.xlsx", "damaged", "specs"}
    assert sum(path.stat().st_size for path in FOLDER.rglob("*") if path.is_file()) < 1_500_000


def test_about_names_every_planted_fault(texts: dict[str, str]) -> None:
    """Start, size, side, property and delay as the simulation has them; the quiet window lies before all."""
    about = tomllib.loads(texts["about.toml"])
    assert about["history"]["seed"] == DEMO_SEED
    assert list(about["faults"]) == [fault.id for fault in DEMO_FAULTS]
    for fault in DEMO_FAULTS:
        entry = about["faults"][fault.id]
        for key in ("what", "property", "point", "side", "start_h", "size_sd", "greatest_delay_h", "amount"):
            assert entry[key] == getattr(fault, key)
        assert about["quiet_baseline"]["to"] <= entry["start"] < about["history"]["until"]
    assert len({fault.id for fault in DEMO_FAULTS}) >= 8


def test_the_specs_belong_to_the_foundry() -> None:
    """They load over the shipped ones; the clock is the simulation's; phone numbers are fictitious."""
    specs = load(FOLDER / "specs")
    assert specs.plant.name == "Haldmoor Castings"
    assert specs.plant.time_zone == ZONE
    assert all(contact.phone.startswith("ext. ") for contact in specs.plant.contacts.values())
    properties = {fault.property for fault in DEMO_FAULTS}
    assert properties <= set(specs.properties)
    assert {fault.point for fault in DEMO_FAULTS} <= set(specs.systems["main"].points)


def test_csv_rows_carry_units_and_offsets(texts: dict[str, str]) -> None:
    """Every value with its unit, every time with its offset from UTC."""
    specs = load(FOLDER / "specs")
    rows = list(csv.DictReader(io.StringIO(texts["samples.csv"])))
    assert len(rows) > 1500
    for row in rows:
        assert row["unit"] == specs.properties[row["property"]].unit
        assert datetime.fromisoformat(row["time"]).utcoffset() is not None
        assert float(row["value"]) > 0.0


def test_the_workbook_is_as_messy_as_real_ones(sheets: dict[str, Sheet]) -> None:
    """Everything that importing has to cope with is in it."""
    tests, weekly = sheets["Sand 2025"], sheets["Weekly"]
    cells = list(tests.cells.values())
    text = [value for value in cells if isinstance(value, str)]
    assert any("," in value and value.replace(",", "").isdigit() for value in text)
    assert {"n/a", "-", "Average", "Early shift 06-14", "GCS [N/cm2]", "3,4,1", "4O"} <= set(text)
    assert "< 2" in weekly.cells.values()
    assert 0.0 in [value for value in cells if isinstance(value, float)]
    assert any(isinstance(value, time) for value in cells)
    dates = [value for (_, column), value in tests.cells.items() if column == 1]
    assert any(isinstance(value, date) for value in dates)
    assert {"09.04.2025", "15/04/25"} <= set(dates)
    assert len(tests.merges) > 15
    rows: dict[int, tuple[object, ...]] = {}
    for (row, column), value in sorted(tests.cells.items()):
        if 11 < column < 21:
            rows[row] = (*rows.get(row, ()), value)
    tested = [values for values in rows.values() if len(values) > 7 and values[-1] in ("MO", "TB", "SK")]
    assert len(tested) - len(set(tested)) == 2
