"""The plan of the small messy sheet, counted by hand from the rows in messy.py."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import pytest
import xlsxwriter

from sandlab.errors import ImportRefused
from sandlab.exchange import Counts, ImportPlan, Mapping, plan_import
from sandlab.records import Sample
from sandlab.specs import Specs
from tests.exchange.messy import NOW


def at(text: str) -> datetime:
    """An instant written in UTC."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def sample_at(plan: ImportPlan, text: str) -> Sample:
    """The one sample of an instant."""
    (found,) = [sample for sample in plan.samples if sample.at == at(text)]
    return found


def values(sample: Sample) -> dict[str, float | None]:
    """Property to value."""
    return {result.property: result.value for result in sample.results}


def test_counts_are_those_counted_by_hand(messy_plan: ImportPlan) -> None:
    """Ten row parts give samples; a duplicate, a contradiction, three bad times and a comment do not."""
    assert messy_plan.counts == Counts(
        rows=16,
        samples=10,
        results=24,
        censored=1,
        doubtful=5,
        refused=6,
        skipped=3,
        duplicates=1,
        not_measured=4,
    )


def test_a_row_becomes_a_sample_with_its_origin(messy_plan: ImportPlan) -> None:
    """Local time to UTC, initials to a name, N/cm2 to kPa (1 N/cm2 = 10 kPa by definition)."""
    sample = sample_at(messy_plan, "2026-03-04 05:00")
    assert (sample.system, sample.point, sample.by, sample.source) == (
        "main",
        "muller_discharge",
        "K. Dorn",
        "import",
    )
    assert sample.note == "messy.xlsx, sheet Sand 2026, row 6"
    assert sample.recorded_at == NOW
    expected = {
        "compactability": 42,
        "moisture": 3.2,
        "green_compression_strength": 165,
        "sand_temperature": 31,
    }
    assert values(sample) == pytest.approx(expected, abs=1e-9)


def test_censored_unmeasured_and_comment(messy_plan: ImportPlan) -> None:
    """`< 2` keeps its mark and is flagged, `n/a` is no value, the comment goes into the note."""
    sample = sample_at(messy_plan, "2026-03-04 06:00")
    assert list(values(sample)) == ["compactability", "moisture", "green_compression_strength"]
    strength = sample.results[2]
    assert (strength.censored, strength.value) == ("<", pytest.approx(20.0))
    assert strength.flags == ("Green compression strength of <20 kPa is unusual (usual: 80 to 260)",)
    assert sample.note.endswith("; belt wet")


def test_zero_is_not_tested_where_the_mapping_says_so(messy_plan: ImportPlan) -> None:
    """A typed 0.0 of moisture is no measurement."""
    assert values(sample_at(messy_plan, "2026-03-04 14:00")) == {"compactability": 40.0}


def test_initials_that_nobody_knows_are_kept_and_noted(messy_plan: ImportPlan) -> None:
    """Unknown initials stay as written; no initials mean the one who imports."""
    assert sample_at(messy_plan, "2026-03-05 13:00").by == "??"
    assert sample_at(messy_plan, "2026-03-06 13:00").by == "A. Importer"


def test_of_two_contradicting_rows_the_first_stays_flagged(messy_plan: ImportPlan) -> None:
    """47 against 42 at the same time and point: the second row is left out, both places are named."""
    sample = sample_at(messy_plan, "2026-03-06 08:00")
    assert values(sample)["compactability"] == 42.0
    assert sample.results[0].flags == ("row 13 of the imported file says '47'",)
    places = {(note.severity, note.row, note.column) for note in messy_plan.notes if note.row in (12, 13)}
    assert {("refused", 13, "E"), ("doubtful", 12, "E")} <= places
    assert ("doubtful", 13, "H") not in places


def test_every_refusal_has_its_place_and_what_to_do(messy_plan: ImportPlan) -> None:
    """Sheet, row and column as the spreadsheet shows them."""
    refused = {(n.row, n.column, n.text): n for n in messy_plan.notes if n.severity == "refused"}
    assert list(refused) == [
        (9, "F", "33"),
        (9, "L", "4,2,1"),
        (13, "E", "47"),
        (14, "B", "31.02.2026"),
        (15, "", ""),
        (16, "J", "25:00"),
    ]
    assert all(note.sheet == "Sand 2026" and note.what and note.do for note in refused.values())
    assert "still to come" in refused[(15, "", "")].what


def test_the_same_file_gives_the_same_ids(
    messy_folder: Path, messy_plan: ImportPlan, messy_mapping: Mapping, specs: Specs
) -> None:
    """Read again a day later by somebody else under another name: the ids are the same, and all differ."""
    copy = messy_folder / "copy.xlsx"
    copy.write_bytes((messy_folder / "messy.xlsx").read_bytes())
    again = plan_import(copy, messy_mapping, specs=specs, now=NOW + timedelta(days=1), by="B")
    assert [sample.id for sample in again.samples] == [sample.id for sample in messy_plan.samples]
    assert len({sample.id for sample in again.samples}) == 10
    assert all(UUID(sample.id).version == 5 for sample in again.samples)


def test_a_later_now_admits_what_was_still_to_come(
    messy_folder: Path, messy_mapping: Mapping, specs: Specs
) -> None:
    """The row of 1 October is refused before that time and taken after it."""
    late = datetime(2026, 10, 1, 4, 0, tzinfo=UTC)
    path = messy_folder / "messy.xlsx"
    assert plan_import(path, messy_mapping, specs=specs, now=late, by="B").counts.samples == 11
    early = plan_import(path, messy_mapping, specs=specs, now=late - timedelta(seconds=1), by="B")
    assert early.counts.samples == 10


def test_heads_that_moved_are_refused_all_at_once(
    tmp_path: Path, messy_mapping: Mapping, specs: Specs
) -> None:
    """A column put in, a unit changed: the mapping no longer fits, and every head says so."""
    book = xlsxwriter.Workbook(str(tmp_path / "moved.xlsx"))
    sheet = book.add_worksheet("Sand 2026")
    sheet.write_row(
        "B5", ["Date", "Time", "by", "Perm", "CB %", "GCS [N/cm2]", "Temp °F", "", "Time", "by", "CB %"]
    )
    sheet.write_row("B6", ["04.03.2026", "07:00", "KD", 110, 42, 16])
    book.close()
    with pytest.raises(ImportRefused) as caught:
        plan_import(tmp_path / "moved.xlsx", messy_mapping, specs=specs, now=NOW, by="B")
    told = [str(problem) for problem in caught.value.problems]
    assert len(told) == 4
    assert "column E is headed 'perm', not 'CB %'" in told[0]
    assert "column F is headed 'cb %', not 'H2O %'" in told[1]
    assert "column H is headed in F, the mapping says C" in told[2]
    assert "column M is headed 'nothing'" in told[3]


def test_a_file_without_rows_is_refused(tmp_path: Path, messy_mapping: Mapping, specs: Specs) -> None:
    """Heads alone are not an import of nothing."""
    book = xlsxwriter.Workbook(str(tmp_path / "bare.xlsx"))
    sheet = book.add_worksheet("Sand 2026")
    sheet.write_row("B5", ["Date", "Time", "by", "CB %", "H2O %", "GCS [N/cm2]", "Temp"])
    sheet.write_row("J5", ["Time", "by", "CB %", "H2O %"])
    book.close()
    with pytest.raises(ImportRefused, match="no row below the heads"):
        plan_import(tmp_path / "bare.xlsx", messy_mapping, specs=specs, now=NOW, by="B")


def test_samples_are_valid_records_in_order_of_time(messy_plan: ImportPlan, specs: Specs) -> None:
    """Each sample passes the record's own checks again and carries the hash of the specs in force."""
    times = [sample.at for sample in messy_plan.samples]
    assert times == sorted(times)
    for sample in messy_plan.samples:
        assert Sample.model_validate(sample.model_dump()) == sample
        assert sample.specs_hash == specs.hash
        assert set(values(sample)) <= set(specs.properties)
