"""A proposed mapping reads a file as one written by hand does, asks what is open, and loads as written."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from sandlab.errors import ImportRefused
from sandlab.exchange import ImportPlan, load_mapping, plan_import, read_grid
from sandlab.exchange.proposing import Proposal, fitting_mapping, mapping_text, propose_mapping
from sandlab.labels import data_folder
from sandlab.specs import Specs, load
from tests.exchange.messy import NOW

SAMPLES = data_folder("sample_data")
LATER = datetime(2026, 11, 1, tzinfo=UTC)


def proposal_for(path: Path, specs: Specs) -> Proposal:
    """The proposal for a file, which has to load as it was written out."""
    proposal = propose_mapping(path.name, read_grid(path, None), specs, "main", "muller_discharge")
    kept = path.with_suffix(".proposed.toml")
    kept.write_text(mapping_text(proposal), encoding="utf-8")
    assert load_mapping(kept, specs) == proposal.mapping
    return proposal


def table(folder: Path, text: str, specs: Specs) -> tuple[Proposal, ImportPlan]:
    """The proposal for a text table, and what it would add."""
    path = folder / "table.csv"
    path.write_text(text, encoding="utf-8")
    proposal = proposal_for(path, specs)
    return proposal, plan_import(path, proposal.mapping, specs=specs, now=LATER, by="B")


def values(plan: ImportPlan) -> set[tuple[datetime, str, str, float | None, str]]:
    """Everything a plan would add, without who and where."""
    return {
        (sample.at, sample.point, result.property, result.value, result.censored)
        for sample in plan.samples
        for result in sample.results
    }


def asked(proposal: Proposal) -> str:
    """All questions as one text."""
    return "\n".join(f"{one.where}: {one.what}; {one.do}" for one in proposal.questions)


def columns(proposal: Proposal) -> dict[str, str]:
    """Columns by what they were taken for."""
    return {one.means: one.column for one in proposal.guesses if one.means}


def test_the_old_workbook_is_read_as_by_the_mapping_written_by_hand(tmp_path: Path) -> None:
    """The same 742 results; only the names behind the initials are not to be guessed."""
    specs = load(SAMPLES / "specs")
    book = tmp_path / "old_workbook.xlsx"
    book.write_bytes((SAMPLES / "old_workbook.xlsx").read_bytes())
    proposal = proposal_for(book, specs)
    by_hand = load_mapping(SAMPLES / "mapping.toml", specs)
    plans = [
        plan_import(book, mapping, specs=specs, now=LATER, by="B") for mapping in (proposal.mapping, by_hand)
    ]
    assert values(plans[0]) == values(plans[1])
    assert len(values(plans[0])) == 742
    assert "Notes: no row of heads was recognised" in asked(proposal)
    assert "'4O' (1), '3,4,1' (1)" in asked(proposal)


def test_the_messy_sheet_is_understood(
    messy_folder: Path, messy_plan: ImportPlan, specs: Specs, tmp_path: Path
) -> None:
    """Shifts side by side under merged heads, dates in several forms, an average row, zeros."""
    path = tmp_path / "messy.xlsx"
    path.write_bytes((messy_folder / "messy.xlsx").read_bytes())
    proposal = proposal_for(path, specs)
    mapping = proposal.mapping.model_copy(update={"time_zone": "Europe/Berlin", "not_measured": ("-", "n/a")})
    plan = plan_import(path, mapping, specs=specs, now=NOW, by="A. Importer")
    assert values(plan) >= values(messy_plan)
    (sheet,) = mapping.sheets.values()
    assert [len(block.columns) for block in sheet.blocks.values()] == [4, 2]
    assert sheet.date_fill_down
    assert sheet.skip_rows_with == ("Average",)


@pytest.mark.parametrize(
    "name", ["Weekly average", "Wochen-Mittelwert", "Sous-total", "GRAND TOTAL:", "Mean of week"]
)
def test_rows_that_sum_up_are_left_out(tmp_path: Path, specs: Specs, name: str) -> None:
    """Under whatever name, in the place of a date; a technician called Max is none of them."""
    rows = [f"2026-03-{day:02d},07:00,3.{day % 5},K. Max" for day in range(1, 13)]
    rows.insert(6, f"{name},,3.3,")
    proposal, plan = table(tmp_path, "Date,Time,Moisture [%],Tech\n" + "\n".join(rows) + "\n", specs)
    (sheet,) = proposal.mapping.sheets.values()
    assert sheet.skip_rows_with == (name,)
    assert len(plan.samples) == 12
    assert [note.severity for note in plan.notes] == ["skipped"]


@pytest.mark.parametrize("name", ["batches", "production", "receipts", "samples"])
def test_exported_tables_are_recognised_by_their_heads(name: str, tmp_path: Path) -> None:
    """Every row of the sample tables becomes a record; none is doubtful for its heads."""
    specs = load(SAMPLES / "specs")
    path = tmp_path / f"{name}.csv"
    path.write_bytes((SAMPLES / f"{name}.csv").read_bytes())
    proposal = proposal_for(path, specs)
    assert [sheet.kind for sheet in proposal.mapping.sheets.values()] == [name]
    plan = plan_import(path, proposal.mapping, specs=specs, now=LATER, by="B")
    rows = len((SAMPLES / f"{name}.csv").read_text(encoding="utf-8").splitlines()) - 1
    assert plan.counts.rows == rows
    assert plan.counts.refused == 0
    if name != "samples":
        assert plan.counts.records == rows


def test_other_units_and_languages_are_converted_at_the_border(tmp_path: Path, specs: Specs) -> None:
    """German heads with decimal commas; 23.2 psi are 159.96 kPa and 95 F are 35 C by their definitions."""
    text = (
        "Datum;Uhrzeit;Verdichtbarkeit [%];Feuchte %;Gründruckfestigkeit [psi];Temp. [°F];Glühverlust\n"
        "04.03.2026;06:00;42;3,25;23,2;95;3,9\n14.03.2026;07:00;43;3,3;22,9;96;4,1\n"
    )
    proposal, plan = table(tmp_path, text, specs)
    assert set(columns(proposal)) == {
        "date", "time", "compactability", "moisture", "green_compression_strength", "sand_temperature",
        "loss_on_ignition",
    }  # fmt: skip
    first = {result.property: result.value for result in plan.samples[0].results}
    assert first["green_compression_strength"] == pytest.approx(159.96, abs=0.01)
    assert first["sand_temperature"] == pytest.approx(35.0)
    assert first["moisture"] == 3.25
    assert proposal.mapping.decimal_marks == (",",)


def test_units_in_a_row_of_their_own_belong_to_the_heads(tmp_path: Path, specs: Specs) -> None:
    """Heads over units; kN/m2 is kPa."""
    text = "Date,Time,CB,GCS,LOI\n,,%,kN/m²,%\n2026-03-04,06:00,42,165,3.9\n2026-03-04,07:00,41,161,4.0\n"
    proposal, plan = table(tmp_path, text, specs)
    (sheet,) = proposal.mapping.sheets.values()
    assert (sheet.head_rows, sheet.first_row) == ((1, 2), 3)
    assert plan.counts.results == 6
    assert {result.value for result in plan.samples[0].results} == {42.0, 165.0, 3.9}


def test_values_in_another_unit_than_ours_are_proposed_and_asked(tmp_path: Path, specs: Specs) -> None:
    """95 to 97 are no usual degrees C of a sand in use, but degrees F."""
    text = "Date,Time,CB,Temp\n2026-03-04,06:00,42,95\n2026-03-04,07:00,41,96\n2026-03-04,08:00,41,97\n"
    proposal, plan = table(tmp_path, text, specs)
    assert "the values look like F" in asked(proposal)
    assert plan.samples[0].results[1].value == pytest.approx(35.0)


def test_values_that_fit_two_units_are_a_question(tmp_path: Path, specs: Specs) -> None:
    """16.5 without a unit: 165 kPa from N/cm2 or 114 kPa from psi are both usual strengths."""
    text = "Date,Time,CB,GCS\n2026-03-04,06:00,42,16.5\n2026-03-04,07:00,41,16.1\n2026-03-04,08:00,41,16.9\n"
    proposal, plan = table(tmp_path, text, specs)
    assert "the values look like N/cm2 or psi" in asked(proposal)
    assert {result.property for sample in plan.samples for result in sample.results} == {"compactability"}


def test_dates_that_can_be_read_two_ways_are_a_question(tmp_path: Path, specs: Specs) -> None:
    """No form is proposed; the rows are refused until a person says which; the hint is no decision."""
    text = "Date,Time,CB\n03/04/2026,06:00,42\n03/05/2026,06:00,43\n03/06/2026,06:00,41\n"
    proposal, plan = table(tmp_path, text, specs)
    assert proposal.mapping.dates == ()
    assert "can be read day first or month first" in asked(proposal)
    assert (plan.counts.samples, plan.counts.refused) == (0, 3)


@pytest.mark.parametrize(
    ("dates", "forms"),
    [
        (("03/04/2026", "25/04/2026"), ("day/month/year",)),
        (("03/04/2026", "04/25/2026"), ("month/day/year",)),
        (("4-3-26", "25-4-26"), ("day-month-year",)),
        (("2026/03/04", "2026/04/25"), ("year/month/day",)),
        (("4 Mar 2026", "25 April 2026"), ("day month year",)),
        (("3.4.2026", "5.4.2026"), ("day.month.year",)),
    ],
)
def test_dates_that_one_row_decides_are_read(
    dates: tuple[str, str], forms: tuple[str, ...], tmp_path: Path, specs: Specs
) -> None:
    """A 25 is no month; points are day first (common practice)."""
    text = "Date,Time,CB\n" + "".join(f"{date},06:00,42\n" for date in dates)
    proposal, plan = table(tmp_path, text, specs)
    assert proposal.mapping.dates == forms
    assert plan.counts.samples == 2


def test_dates_in_both_orders_refuse_what_cannot_be_told_apart(tmp_path: Path, specs: Specs) -> None:
    """25/03 and 03/26 are read, 04/05 is not."""
    text = "Date,Time,CB\n25/03/2026,06:00,42\n03/26/2026,06:00,43\n04/05/2026,06:00,41\n"
    proposal, plan = table(tmp_path, text, specs)
    assert "stand in both orders" in asked(proposal)
    assert [f"{sample.at:%m-%d}" for sample in plan.samples] == ["03-25", "03-26"]
    assert plan.counts.refused == 1


def test_a_head_that_fits_two_properties_is_left_to_a_person(tmp_path: Path, specs: Specs) -> None:
    """`Clay` alone is neither active clay nor AFS clay."""
    text = "Date,Time,CB,Clay\n2026-03-04,06:00,42,8.1\n2026-03-04,07:00,41,8.0\n"
    proposal, _ = table(tmp_path, text, specs)
    assert [one.head for one in proposal.guesses if not one.means] == ["Clay"]


def test_values_that_cannot_be_speak_against_the_head(tmp_path: Path, specs: Specs) -> None:
    """A moisture of 90 is no moisture: the column is not used, and asked about."""
    text = "Date,Time,CB,Moisture\n2026-03-04,06:00,42,91\n2026-03-04,07:00,41,88\n"
    proposal, plan = table(tmp_path, text, specs)
    assert "moisture" not in columns(proposal)
    assert "100% of the values are impossible" in asked(proposal)
    assert plan.counts.results == 2


def test_the_same_test_twice_in_a_row_is_asked_about(tmp_path: Path, specs: Specs) -> None:
    """Two columns of compactability at one time: the first is taken, the second is a question."""
    text = "Date,Time,CB 1,CB 2\n2026-03-04,06:00,42,43\n2026-03-04,07:00,41,44\n"
    proposal, plan = table(tmp_path, text, specs)
    assert "repeats compactability in the same row" in asked(proposal)
    assert {result.value for sample in plan.samples for result in sample.results} == {42.0, 41.0}


def test_thousands_are_not_taken_for_decimals(tmp_path: Path, specs: Specs) -> None:
    """1,250 beside 98.5: a comma before three digits throughout is asked about, and refused meanwhile."""
    text = 'Date,Time,Dry strength [kPa],CB\n2026-03-04,06:00,"1,250",42.5\n2026-03-04,07:00,"1,120",41\n'
    proposal, plan = table(tmp_path, text, specs)
    assert proposal.mapping.decimal_marks == (".",)
    assert "as those of thousands" in asked(proposal)
    assert plan.counts.refused == 2


def test_a_long_table_with_words_of_its_own(tmp_path: Path, specs: Specs) -> None:
    """Property names and sampling points as the laboratory writes them; units by the row."""
    text = (
        "When,Taken from,Test,Result,Unit\n"
        "2026-03-04 06:00,Muller,H2O,3.2,%\n2026-03-04 06:00,Muller,green strength,16.5,N/cm²\n"
        "2026-03-04 06:10,Return belt,Return sand temp,41,°C\n2026-03-04 06:10,Return belt,colour,grey,\n"
    )
    path = tmp_path / "long.csv"
    path.write_text(text, encoding="utf-8")
    proposal = proposal_for(path, specs)
    assert proposal.mapping.sampling_points == {"Muller": "muller_discharge", "Return belt": "return_belt"}
    assert "'colour' names no property" in asked(proposal)
    plan = plan_import(path, proposal.mapping, specs=specs, now=LATER, by="B")
    found = {(point, name): value for _, point, name, value, _ in values(plan)}
    assert found == {
        ("muller_discharge", "moisture"): 3.2,
        ("muller_discharge", "green_compression_strength"): pytest.approx(165.0),
        ("return_belt", "return_temperature"): 41.0,
    }


def test_next_months_file_uses_the_kept_mapping(tmp_path: Path, specs: Specs) -> None:
    """The same heads under another sheet name; another head, another mapping."""
    head = "Date,Time,CB,Moisture\n"
    (tmp_path / "march.csv").write_text(f"{head}2026-03-04,06:00,42,3.2\n", encoding="utf-8")
    kept = {"lab.toml": proposal_for(tmp_path / "march.csv", specs).mapping}
    (tmp_path / "april.csv").write_text(f"{head}2026-04-04,06:00,41,3.3\n", encoding="utf-8")
    (tmp_path / "other.csv").write_text("Date,Time,Moisture,CB\n2026-04-04,06:00,3.3,41\n", encoding="utf-8")
    april, other = (read_grid(tmp_path / name, None) for name in ("april.csv", "other.csv"))
    assert fitting_mapping("april.csv", april, kept, specs) == ("lab.toml", kept["lab.toml"])
    assert fitting_mapping("other.csv", other, kept, specs) is None


def test_next_months_sheet_is_found_by_its_heads(tmp_path: Path) -> None:
    """A workbook whose sheet is called after the year."""
    import openpyxl

    specs = load(SAMPLES / "specs")
    book = openpyxl.load_workbook(SAMPLES / "old_workbook.xlsx")
    book["Sand 2025"].title = "Sand 2026"
    book.save(tmp_path / "new.xlsx")
    kept = {"hand.toml": load_mapping(SAMPLES / "mapping.toml", specs)}
    found = fitting_mapping("new.xlsx", read_grid(tmp_path / "new.xlsx", None), kept, specs)
    assert found is not None
    assert [sheet.name for sheet in found[1].sheets.values()] == ["Sand 2026", "Weekly"]


def test_a_file_without_heads_is_refused_in_words(tmp_path: Path, specs: Specs) -> None:
    """Nothing to go by."""
    path = tmp_path / "numbers.csv"
    path.write_text("1,2,3\n4,5,6\n", encoding="utf-8")
    with pytest.raises(ImportRefused, match="no sheet has heads"):
        propose_mapping(path.name, read_grid(path, None), specs, "main", "muller_discharge")


def test_times_of_twice_twelve_hours_are_read(tmp_path: Path, specs: Specs) -> None:
    """6:00 PM is 18:00; no pattern is needed."""
    text = "Date,Time,CB\n2026-03-04,6:00 AM,42\n2026-03-04,6:00 PM,43\n"
    _, plan = table(tmp_path, text, specs)
    assert [sample.at.hour for sample in plan.samples] == [6, 18]
