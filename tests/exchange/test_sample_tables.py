"""The committed CSV samples and the damaged files, read through the committed mappings."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from pathlib import Path

import pytest

from sandlab.errors import ImportRefused
from sandlab.exchange import ImportPlan, load_mapping, plan_import
from sandlab.labels import data_folder
from sandlab.specs import Specs, load

SAMPLES = data_folder("sample_data")
DAMAGED = SAMPLES / "damaged"
NOW = datetime(2026, 1, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def haldmoor() -> Specs:
    """The specs of the sample foundry."""
    return load(SAMPLES / "specs")


def planned(path: Path, specs: Specs) -> ImportPlan:
    """The plan of one of the sample files by the mapping for its kind."""
    name = "mapping.toml" if path.suffix == ".xlsx" else "mapping_csv.toml"
    return plan_import(path, load_mapping(SAMPLES / name, specs), specs=specs, now=NOW, by="Import")


def test_samples_csv_is_imported_line_by_line(haldmoor: Specs) -> None:
    """Each line, read by the csv module, is one result with its time, point, technician and value."""
    plan = planned(SAMPLES / "samples.csv", haldmoor)
    imported = {
        (sample.at, sample.point, sample.by, result.property): result.value
        for sample in plan.samples
        for result in sample.results
    }
    text = (SAMPLES / "samples.csv").read_text(encoding="utf-8")
    lines = list(csv.DictReader(io.StringIO(text)))
    written = {
        (datetime.fromisoformat(line["time"]), line["point"], line["by"], line["property"]): line
        for line in lines
    }
    assert len(written) == len(lines) == plan.counts.results == plan.counts.rows > 1000
    assert imported == {key: float(line["value"]) for key, line in written.items()}
    # Two sets of tests from one scoop of sand are one sample here.
    assert plan.counts.samples == len({(line["time"], line["point"], line["by"]) for line in lines})
    assert not plan.notes


@pytest.mark.parametrize(
    ("name", "place", "what"),
    [
        ("future_date.csv", ("refused", 5, ""), "2125-05-19 09:01 is still to come"),
        ("text_for_a_number.csv", ("refused", 2, "E"), "'wet' is not a number"),
        ("two_decimal_marks.csv", ("refused", 4, "E"), "has two decimal marks"),
        ("ragged.csv", ("doubtful", 3, "H"), "the row has 9 cells, the heads have 7"),
    ],
)
def test_a_damaged_table_has_one_note_at_its_fault(
    haldmoor: Specs, name: str, place: tuple[str, int, str], what: str
) -> None:
    """Four results in four lines; the faulty one alone is refused or flagged."""
    plan = planned(DAMAGED / name, haldmoor)
    (note,) = plan.notes
    assert (note.severity, note.row, note.column) == place
    assert what in note.what
    assert note.do
    assert plan.counts.rows == 4
    assert plan.counts.results == (3 if note.severity == "refused" else 4)
    flagged = [result for sample in plan.samples for result in sample.results if result.flags]
    assert [result.flags for result in flagged] == ([] if note.severity == "refused" else [(note.what,)])


def test_a_table_in_an_old_code_page_keeps_its_letters(haldmoor: Specs) -> None:
    """Danish letters in code page 1252."""
    plan = planned(DAMAGED / "code_page_1252.csv", haldmoor)
    assert plan.samples[-1].by == "Søren Bøgh"
    assert plan.counts.results == 4
    assert not plan.notes


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("missing_column.csv", "no column is headed 'value'"),
        ("truncated.xlsx", r"the workbook is damaged \(its end is missing\)"),
    ],
)
def test_a_file_that_cannot_be_understood_is_refused_whole(haldmoor: Specs, name: str, what: str) -> None:
    """Nothing is half imported."""
    with pytest.raises(ImportRefused, match=what):
        planned(DAMAGED / name, haldmoor)


def test_every_damaged_file_has_its_check() -> None:
    """A file added to the folder needs a line above."""
    here = Path(__file__).read_text(encoding="utf-8")
    assert [path.name for path in DAMAGED.iterdir() if path.name not in here] == []
