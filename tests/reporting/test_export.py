"""Exports: the same records come back, and independent readers find typed cells under known names."""

from __future__ import annotations

import csv
import json
from datetime import UTC, datetime
from pathlib import Path

import openpyxl
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from sandlab.errors import ImportRefused, InputError
from sandlab.lab.exporting import FORMATS, NAMES, Format, export, tables_of
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.periods import Period
from sandlab.records import AnyRecord
from sandlab.reporting.columns import WORDS
from sandlab.reporting.taking_back import read_export
from sandlab.store import KINDS, open_store
from tests.reporting.conftest import save
from tests.store.examples import SYSTEM, hours

TABLES = ("results", "readings", "batch_materials", *KINDS)


def written(lab: Lab, folder: Path, format: Format, name: str = "out") -> Path:
    """An export of everything."""
    place = folder / (f"{name}.xlsx" if format == "xlsx" else f"{name}_{format}")
    export(lab, place, format=format, period=Period())
    return place


@pytest.mark.parametrize("format", FORMATS)
def test_an_export_read_back_gives_the_same_records(
    lab: Lab, records: list[AnyRecord], tmp_path: Path, format: Format
) -> None:
    """Every record equal, revisions, flags, bounds, raw readings and every digit included."""
    back = read_export(written(lab, tmp_path, format), KINDS)
    assert {one.id: one for one in back.records} == {one.id: one for one in records}
    assert back.specs_texts == {hash_: lab.store.specs_text(hash_) for hash_ in back.specs_texts}
    again = open_store(tmp_path / "again.sqlite")
    order = {one.id: place for place, one in enumerate(records)}
    save(again, sorted(back.records, key=lambda one: order[one.id]))
    for name in TABLES:
        assert_frame_equal(again.table(name, SYSTEM), lab.store.table(name, SYSTEM))
    again.close()


@pytest.mark.parametrize("format", FORMATS)
def test_the_same_records_give_the_same_bytes(lab: Lab, tmp_path: Path, format: Format) -> None:
    """Twice written, nothing differs."""
    places = [written(lab, tmp_path, format, name) for name in ("one", "two")]
    contents = [
        {path.name: path.read_bytes() for path in place.iterdir()} if place.is_dir() else place.read_bytes()
        for place in places
    ]
    assert contents[0] == contents[1]


def test_openpyxl_finds_typed_cells_units_and_frozen_heads(lab: Lab, tmp_path: Path) -> None:
    """Checked with openpyxl, an independent reader of workbooks."""
    book = openpyxl.load_workbook(written(lab, tmp_path, "xlsx"))
    assert set(NAMES) | {"about", "columns"} <= set(book.sheetnames)
    sheet = book["tests"]
    heads = [cell.value for cell in sheet[1]]
    units = dict(zip(heads, (cell.value for cell in sheet[2]), strict=True))
    assert sheet.freeze_panes == "B3"
    assert {"compactability", "moisture"} == set(heads) & set(lab.specs.properties)
    assert units["moisture"] == "%" and units["taken_at_local"] == lab.specs.plant.time_zone
    first = dict(zip(heads, sheet[3], strict=True))
    assert first["taken_at_local"].is_date and first["taken_at_local"].value == datetime(2026, 3, 2, 6)  # noqa: DTZ001
    assert first["moisture"].data_type == "n" and first["moisture"].value == 3.4
    kinds = {row[0].value for row in book["columns"].iter_rows(min_row=2)}
    assert kinds == set(NAMES)
    odd = [cell for row in book["events"].iter_rows() for cell in row if str(cell.value).startswith("=1+1")]
    assert odd and all(cell.data_type != "f" for cell in odd)


def test_a_workbook_draws_each_property_with_its_level_lines(lab: Lab, tmp_path: Path) -> None:
    """Charts of the tests; openpyxl reads their series."""
    sheet = openpyxl.load_workbook(written(lab, tmp_path, "xlsx"))["charts"]
    charts = sheet._charts
    assert len(charts) == 2  # two properties have two tests or more
    moisture = charts[1]
    assert len(moisture.series) == 6  # the tests, three lines of the baseline, two of the tolerance
    assert moisture.series[0].yVal.numRef.f.startswith("tests!")


def test_a_csv_sniffer_reads_the_text_tables(lab: Lab, tmp_path: Path) -> None:
    """Checked with the standard library's sniffer and reader."""
    folder = written(lab, tmp_path, "csv")
    for path in folder.glob("*.csv"):
        with path.open(newline="", encoding="utf-8") as file:
            content = file.read()
        dialect = csv.Sniffer().sniff(content.partition("\n")[0])
        assert dialect.delimiter == ","
        rows = list(csv.reader(content.splitlines(keepends=True)))
        assert len({len(row) for row in rows}) == 1, path.name
    with (folder / "tests.csv").open(encoding="utf-8", newline="") as file:
        first = next(csv.DictReader(file))
    assert (first["taken_at"], first["moisture"]) == ("2026-03-02T06:00:00.000000Z", "3.4")


@pytest.mark.oracles
def test_pyarrow_finds_types_and_units(lab: Lab, tmp_path: Path) -> None:
    """Checked with pyarrow, an independent reader of Parquet."""
    parquet = pytest.importorskip("pyarrow.parquet")
    path = written(lab, tmp_path, "parquet") / "tests.parquet"
    table, told = parquet.read_table(path), parquet.read_metadata(path).metadata
    assert str(table.schema.field("taken_at").type) == "timestamp[us, tz=UTC]"
    assert str(table.schema.field("moisture").type) == "double"
    assert json.loads(told[b"columns"])["moisture"]["unit"] == "%"
    assert table.column("moisture").to_pylist()[0] == 3.4


def test_every_column_is_explained(lab: Lab) -> None:
    """In words of its own: a record's field, a property, or a feeder's kilograms."""
    for table in tables_of(lab, Period(), NAMES):
        for column in table.columns:
            known = column.name in WORDS or column.name in lab.specs.properties
            assert known or column.name.endswith("_kg") or column.name.startswith("assay_"), column
            assert column.words


def test_tests_hold_the_values_in_force(lab: Lab) -> None:
    """Corrected ones corrected, those taken back empty, voided samples left out, bounds named."""
    (table,) = tables_of(lab, Period(), ["tests"])
    found = {row["taken_at"]: row for row in table.frame.iter_rows(named=True)}
    assert found[hours(0)]["moisture"] == 3.4
    assert [row["moisture"] for at, row in found.items() if at > hours(3)] == [None, 3.45, 1 / 3]
    assert found[hours(6)]["doubt"] == 'moisture <a; b, c, "d"'


def test_a_period_holds_what_happened_in_it(lab: Lab, tmp_path: Path) -> None:
    """Both ends are included."""
    facts = export(
        lab, tmp_path / "p", format="csv", period=Period(hours(3), hours(6)), kinds=["samples", "events"]
    )
    assert facts.rows == {"samples": 5, "events": 1}
    assert pl.read_csv(tmp_path / "p" / "samples.csv").height == 5


def test_everything_wrong_is_said_at_once(lab: Lab, tmp_path: Path) -> None:
    """Period upside down, an unknown kind, a name that fits no workbook."""
    with pytest.raises(InputError) as caught:
        export(lab, tmp_path / "x", format="xlsx", period=Period(hours(2), hours(1)), kinds=["batchs"])
    said = "\n".join(map(str, caught.value.problems))
    assert "ends before it begins" in said and "did you mean 'batches'?" in said and "end in .xlsx" in said
    with pytest.raises(InputError, match="holds no records"):
        export(lab, tmp_path / "x", format="csv", period=Period(datetime(2030, 1, 1, tzinfo=UTC)))
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "file").touch()
    with pytest.raises(InputError, match="exists already"):
        export(lab, tmp_path / "full", format="csv", period=Period())
    with pytest.raises(InputError, match="cannot be written"):
        export(lab, tmp_path / "full" / "file" / "x", format="csv", period=Period())
    with pytest.raises(ImportRefused, match="holds no export"):
        read_export(tmp_path / "full", KINDS)
    assert [path.name for path in tmp_path.iterdir() if "building" in path.name] == []


def test_a_reader_without_the_right_to_write_can_export(lab: Lab, tmp_path: Path) -> None:
    """Exports only read."""
    reader = open_lab(lab.folder, readonly=True)
    export(reader, tmp_path / "out", format="csv", period=Period())
    reader.close()
