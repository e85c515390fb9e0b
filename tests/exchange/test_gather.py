"""Ids of imported samples, clock changes, and rows with more than one fault."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import NAMESPACE_DNS, uuid5

from sandlab.exchange import NAMESPACE, ImportPlan, load_mapping, plan_import
from sandlab.exchange.gather import sample_id
from sandlab.records import Result
from sandlab.specs import Specs
from tests.exchange.messy import NOW

MAPPING = """
system = "main"
point = "muller_discharge"
time_zone = "Europe/Berlin"
dates = ["day.month.year hour:minute", "day.month.year"]
[sheets.all]
head_rows = [1]
first_row = 2
date = { head = "When" }
[sheets.all.blocks.all]
TIME
[sheets.all.blocks.all.columns]
moisture = { head = "H2O" }
permeability = { head = "Perm" }
"""


def plan_of(folder: Path, specs: Specs, lines: list[str], *, time: str = "") -> ImportPlan:
    """The plan of a table with semicolons."""
    (folder / "table.toml").write_text(MAPPING.replace("TIME", time), encoding="utf-8")
    (folder / "table.csv").write_text("\n".join(lines), encoding="utf-8")
    mapping = load_mapping(folder / "table.toml", specs)
    return plan_import(folder / "table.csv", mapping, specs=specs, now=NOW, by="B")


def at(text: str) -> datetime:
    """An instant written in UTC."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def test_the_namespace_can_be_made_again() -> None:
    """The namespace follows by RFC 9562 from the name in its comment."""
    assert uuid5(NAMESPACE_DNS, "import.sandlab") == NAMESPACE


def test_an_id_depends_on_system_point_time_and_content_alone() -> None:
    """Any of them changed gives another id; the order of results and their flags do not."""
    moment = at("2026-03-04 06:00")
    water, strength = (
        Result(property="moisture", value=3.2),
        Result(property="green_shear_strength", value=40),
    )
    bound = water.model_copy(update={"censored": "<"})
    flagged = water.model_copy(update={"flags": ("unusual",)})
    ids = [
        sample_id("main", "belt", moment, (water, strength)),
        sample_id("second", "belt", moment, (water, strength)),
        sample_id("main", "muller", moment, (water, strength)),
        sample_id("main", "belt", moment + timedelta(minutes=1), (water, strength)),
        sample_id("main", "belt", moment, (water,)),
        sample_id("main", "belt", moment, (strength,)),
        sample_id("main", "belt", moment, (bound, strength)),
        sample_id("main", "belt", moment, (water.model_copy(update={"value": 3.21}), strength)),
    ]
    assert len(set(ids)) == len(ids)
    assert sample_id("main", "belt", moment, (strength, flagged)) == ids[0]


def test_clock_changes_in_a_table(tmp_path: Path, specs: Specs) -> None:
    """A different row of the repeated hour is of its second pass; the same row again is a duplicate."""
    lines = ["When;H2O;Perm", "25.10.2025 02:30;3,1", "25.10.2025 02:30;3,2", "26.10.2025 02:30;3,1"]
    lines += ["26.10.2025 02:30;3,2", "26.10.2025 02:30;3,1", "26.10.2025 02:30;3,3", "30.03.2025 02:15;3,0"]
    plan = plan_of(tmp_path, specs, lines)
    assert [(sample.at, sample.results[0].value) for sample in plan.samples] == [
        (at("2025-03-30 01:15"), 3.0),
        (at("2025-10-25 00:30"), 3.1),
        (at("2025-10-26 00:30"), 3.1),
        (at("2025-10-26 01:30"), 3.2),
    ]
    assert plan.counts.duplicates == 1
    assert [note.row for note in plan.notes if note.severity == "refused"] == [3, 7]
    assert "the second (CET) was taken" in plan.samples[3].note


def test_a_row_left_out_keeps_its_refused_cells_and_drops_its_doubts(tmp_path: Path, specs: Specs) -> None:
    """Nothing of the row is imported, so no doubt about it is left."""
    plan = plan_of(tmp_path, specs, ["When;H2O;Perm", "31.02.2026 07:00;5,9;wet", "04.03.2026 07:00;5,9;wet"])
    assert [(note.row, note.column, note.severity) for note in plan.notes] == [
        (2, "A", "refused"),
        (2, "C", "refused"),
        (3, "B", "doubtful"),
        (3, "C", "refused"),
    ]


def test_a_time_of_another_day_is_refused(tmp_path: Path, specs: Specs) -> None:
    """A time cell with a date of its own must agree with the date beside it."""
    lines = ["When;Clock;H2O;Perm", "04.03.2026;2026-03-04 07:00;3,1", "05.03.2026;2026-03-04 07:00;3,2"]
    plan = plan_of(tmp_path, specs, lines, time='time = { head = "Clock" }')
    assert [sample.at for sample in plan.samples] == [at("2026-03-04 06:00")]
    (note,) = plan.notes
    assert (note.row, note.column, note.severity) == (3, "B", "refused")
    assert "of another day than '05.03.2026'" in note.what


def test_a_fixed_time_serves_a_sheet_without_a_time_column(tmp_path: Path, specs: Specs) -> None:
    """One test a day at the same hour, in the plant's zone in winter and summer."""
    lines = ["When;H2O;Perm", "04.03.2026;3,1", "04.07.2026;3,2"]
    plan = plan_of(tmp_path, specs, lines, time='fixed_time = "07:00"')
    assert [sample.at for sample in plan.samples] == [at("2026-03-04 06:00"), at("2026-07-04 05:00")]
