"""Exports of our own taken in: the same records, known by their ids; conflicts shown, nothing overwritten."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import openpyxl
import pytest
from polars.testing import assert_frame_equal

from sandlab.errors import ImportRefused, NeedsConfirmation
from sandlab.lab.exporting import FORMATS, Format, export
from sandlab.lab.facts import ImportFacts
from sandlab.lab.importing import import_file
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.periods import Period
from sandlab.records import Amendment, AnyRecord, Event, Sample
from tests.reporting.test_export import TABLES, written
from tests.store.examples import SYSTEM, amendment, hours, make


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Lab]:
    """Another plant without a record."""
    opened = open_lab(tmp_path / "other", clock=lambda: datetime(2026, 3, 3, tzinfo=UTC))
    yield opened
    opened.close()


def taken(lab: Lab, place: Path, **options: object) -> ImportFacts:
    """The export taken in for good."""
    return import_file(lab, place, by="KD", commit=True, **options)  # type: ignore[arg-type]


def bytes_of(place: Path) -> dict[str, bytes]:
    """Every file of an export."""
    paths = sorted(place.iterdir()) if place.is_dir() else [place]
    return {path.name if place.is_dir() else path.suffix: path.read_bytes() for path in paths}


@pytest.mark.parametrize("format", FORMATS)
def test_plant_to_export_to_empty_plant_to_the_same_export(
    lab: Lab, empty: Lab, records: list[AnyRecord], tmp_path: Path, format: Format
) -> None:
    """Byte for byte, and every stored table row for row; no mapping is proposed or kept."""
    place = written(lab, tmp_path, format)
    dry = import_file(empty, place, by="KD", commit=False)
    assert (dry.committed, dry.proposed, dry.mapping, dry.added) == (False, False, "", len(records))
    assert "it is an export of sandlab" in dry.words and empty.store.samples(SYSTEM) == ()
    facts = taken(empty, place)
    assert (facts.added, facts.already_known, facts.conflicts) == (len(records), 0, 0)
    for name in TABLES:
        assert_frame_equal(empty.store.table(name, SYSTEM), lab.store.table(name, SYSTEM))
    assert bytes_of(written(empty, tmp_path, format, "again")) == bytes_of(place)
    assert not (empty.folder / "mappings").exists()


def test_independent_readers_find_the_same_values_on_both_sides(lab: Lab, empty: Lab, tmp_path: Path) -> None:
    """A workbook in, text tables out: openpyxl on the one side, the standard library on the other."""
    book = openpyxl.load_workbook(written(lab, tmp_path, "xlsx"), read_only=True)
    rows = list(book["results"].iter_rows(values_only=True))
    heads = [str(head) for head in rows[0]]
    before = {
        (one["sample"], one["property"], str(one["revision"])): one["value"]
        for one in (dict(zip(heads, row, strict=True)) for row in rows[2:])
    }
    taken(empty, tmp_path / "out.xlsx")
    with (written(empty, tmp_path, "csv") / "results.csv").open(encoding="utf-8", newline="") as file:
        after = {
            (one["sample"], one["property"], one["revision"]): float(one["value"]) if one["value"] else None
            for one in csv.DictReader(file)
        }
    assert after == before and len(after) > 8


@pytest.mark.parametrize("format", FORMATS)
def test_the_same_export_twice_adds_nothing(
    lab: Lab, empty: Lab, records: list[AnyRecord], tmp_path: Path, format: Format
) -> None:
    """Nor into the plant it came from; a later one adds what is new, also what corrects an older sample."""
    place = written(lab, tmp_path, format)
    taken(empty, place)
    for plant in (empty, lab):
        again = taken(plant, place)
        assert (again.added, again.already_known, again.conflicts) == (0, len(records), 0)
    second = next(one for one in records if isinstance(one, Sample) and one.at.microsecond == 4)
    lab.store.save([make(Event, at=hours(20), text="new"), amendment(second, 3.55, revision=3)])
    longer = taken(empty, written(lab, tmp_path, format, "longer"))
    assert (longer.added, longer.already_known, longer.conflicts) == (2, len(records), 0)
    assert empty.store.revisions(second.id, "moisture")["value"].to_list()[-1] == 3.55


def edited(place: Path, name: str, change: Callable[[str], str]) -> None:
    """One table of a text export with something changed in it."""
    path = place / f"{name}.csv"
    before = path.read_text(encoding="utf-8")
    path.write_text(change(before), encoding="utf-8")
    assert before != path.read_text(encoding="utf-8")


def test_a_record_that_says_something_else_is_a_conflict(lab: Lab, empty: Lab, tmp_path: Path) -> None:
    """Shown by table, row and what differs; what is recorded stays."""
    place = written(lab, tmp_path, "csv")
    taken(empty, place)
    edited(place, "receipts", lambda text: text.replace("24000.0", "25000.0"))
    edited(place, "results", lambda text: text.replace("0.3333333333333333", "0.34"))
    facts = taken(empty, place)
    assert (facts.added, facts.conflicts) == (0, 2)
    said = {note.sheet: note for note in facts.notes if note.severity == "conflict"}
    assert "kg 24000.0 is recorded, not 25000.0 (A. Baker); it is left out" in said["receipts"].what
    assert "moisture <0.33 is recorded, not <0.34" in said["samples"].what
    with (place / "receipts.csv").open(encoding="utf-8", newline="") as file:
        row = list(csv.DictReader(file))[said["receipts"].row - 2]
    assert row["kg"] == "25000.0"
    for name in TABLES:
        assert_frame_equal(empty.store.table(name, SYSTEM), lab.store.table(name, SYSTEM))


def test_a_sample_corrected_on_both_sides_keeps_the_correction_here(
    lab: Lab, empty: Lab, records: list[AnyRecord], tmp_path: Path
) -> None:
    """The other one is a conflict, and so is what follows it."""
    taken(empty, written(lab, tmp_path, "csv"))
    second = next(one for one in records if isinstance(one, Sample) and one.at.microsecond == 4)
    empty.store.save([amendment(second, 9.0, revision=3, by="Here", reason="mine")])
    there = [amendment(second, 8.0, revision=3), amendment(second, 8.5, revision=4)]
    lab.store.save(there)
    facts = taken(empty, written(lab, tmp_path, "csv", "later"))
    assert (facts.added, facts.conflicts) == (0, 2)
    assert empty.store.revisions(second.id, "moisture")["value"].to_list()[-1] == 9.0


def test_what_belongs_to_a_record_that_is_not_there_is_refused(lab: Lab, empty: Lab, tmp_path: Path) -> None:
    """A release without its recommendation, and what answers it; the rest comes in on confirming."""
    place = written(lab, tmp_path, "csv")
    edited(place, "recommendations", lambda text: text.partition("\n")[0] + "\n")
    with pytest.raises(NeedsConfirmation, match="places are refused"):
        taken(empty, place)
    assert empty.store.samples(SYSTEM) == ()
    facts = taken(empty, place, confirmed=["refused"])
    refused = {note.sheet for note in facts.notes if note.severity == "refused"}
    assert {"releases", "batches"} <= refused
    assert any("left out" in note.what for note in facts.notes if note.sheet == "acknowledgements")
    assert len(empty.store.samples(SYSTEM)) == len(lab.store.samples(SYSTEM))
    assert empty.store.records(Amendment, SYSTEM, revised=True)


def test_an_export_that_does_not_fit_the_plant_is_refused_with_every_reason(
    lab: Lab, empty: Lab, tmp_path: Path
) -> None:
    """Another sand system, an unknown property, another unit, a spec text that was changed."""
    place = written(lab, tmp_path, "csv")
    edited(place, "events", lambda text: text.replace(",main,", ",other,"))
    edited(place, "specs", lambda text: text.replace("Haldmoor", "Haldmor"))
    edited(
        place,
        "results",
        lambda text: text.replace("compactability", "squeezability").replace(",%,", ",ppm,"),
    )
    with pytest.raises(ImportRefused) as caught:
        taken(empty, place)
    said = "\n".join(map(str, caught.value.problems))
    for words in ("sand system 'other'", "squeezability", "stands in 'ppm'", "does not have this SHA-256"):
        assert words in said, said


def test_parts_and_spoilt_exports_are_refused_in_words(lab: Lab, empty: Lab, tmp_path: Path) -> None:
    """Samples without their results, a table cut short, columns that are none; never a traceback."""
    export(lab, tmp_path / "part", format="csv", period=Period(), kinds=["samples", "events"])
    with pytest.raises(ImportRefused, match="holds no results and no readings"):
        taken(empty, tmp_path / "part")
    export(lab, tmp_path / "events", format="csv", period=Period(), kinds=["events"])
    assert taken(empty, tmp_path / "events").added == len(lab.store.records(Event, SYSTEM))
    for number, (name, content) in enumerate(
        [("samples.csv", "id,at\nx,y\n"), ("results.csv", ""), ("columns.csv", "a,b\n1,2\n")]
    ):
        place = written(lab, tmp_path, "csv", f"spoilt{number}")
        (place / name).write_text(content, encoding="utf-8")
        with pytest.raises(ImportRefused, match="cannot be read as an export"):
            taken(empty, place)
    place = written(lab, tmp_path, "parquet", "cut")
    path = place / "samples.parquet"
    path.write_bytes(path.read_bytes()[:200])
    with pytest.raises(ImportRefused, match="cannot be read as an export"):
        taken(empty, place)
    assert empty.store.samples(SYSTEM) == ()


def test_a_spoilt_row_is_named(lab: Lab, empty: Lab, tmp_path: Path) -> None:
    """Which record and which of its columns, not how many errors a library counts."""
    place = written(lab, tmp_path, "csv", "spoilt")
    table = place / "samples.csv"
    head, first, rest = table.read_text(encoding="utf-8").split("\n", 2)
    table.write_text("\n".join((head, first[8:], rest)), encoding="utf-8")
    with pytest.raises(ImportRefused, match=f"Sample {first[8:36]} has a wrong id"):
        taken(empty, place)


def test_other_folders_and_workbooks_are_no_exports(lab: Lab, empty: Lab, tmp_path: Path) -> None:
    """A folder says in words what it is not; a workbook of another hand is read by a mapping."""
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "export.json").write_text(json.dumps({}), encoding="utf-8")
    with pytest.raises(ImportRefused, match="is a folder and no export of sandlab"):
        taken(empty, tmp_path / "folder")
    book = openpyxl.Workbook()
    book.active.title = "columns"
    book.create_sheet("about")
    for row in (["Date", "Time", "CB [%]"], ["2026-03-02", "06:00", "42"]):
        book["columns"].append(row)
    book.save(tmp_path / "old.xlsx")
    assert import_file(empty, tmp_path / "old.xlsx", by="KD", commit=False).proposed
