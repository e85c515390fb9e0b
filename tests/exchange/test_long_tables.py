"""Text tables with a property in each row, several points, stated offsets and units."""

from __future__ import annotations

from pathlib import Path

import pytest

from sandlab.exchange import ImportPlan, load_mapping, plan_import
from sandlab.specs import Specs
from tests.exchange.messy import NOW

MAPPING = """
system = "main"
point = "muller_discharge"
dates = ["day.month.year hour:minute"]
decimal_marks = [","]

[sampling_points]
Belt = "return_belt"

[sheets.tests]
head_rows = [1]
first_row = 2
date = { head = "taken" }

[sheets.tests.blocks.all]
technician = { head = "who" }
sampling_point = { head = "place" }
property = { head = "test" }
value = { head = "result" }
unit = { head = "unit" }

[sheets.tests.blocks.all.columns]
moisture = { text = "Water" }
green_compression_strength = { text = "Strength" }
"""

TABLE = """taken;place;test;result;unit;who
2026-03-04T07:00:00+01:00;;Water;3,2;%;Dorn
2026-03-04T07:00:00+01:00;;Strength;23,2;psi;Dorn
2026-03-04 06:00:00Z;;compactability;42;;Dorn
04.03.2026 06:00;Belt;return_moisture;2,4;;Dorn
2026-03-04T07:00:00+01:00;;Water;3,4;%;Dorn
2026-03-04T08:00:00+01:00;;Watr;3,4;%;Dorn
2026-03-04T08:00:00+01:00;Blet;Water;3,4;%;Dorn
2026-03-04T08:00:00+01:00;;Water;3.4;%;Dorn
2026-03-04T08:00:00+01:00;;Strength;23;bar;Dorn
2026-03-04;;Water;3,4;%;Dorn
;;Water;3,4;%;Dorn
2026-03-04T08:00:00+01:00;;;3,4;%;Dorn
"""


@pytest.fixture
def plan(tmp_path: Path, specs: Specs) -> ImportPlan:
    """The plan of the table above."""
    (tmp_path / "long.toml").write_text(MAPPING, encoding="utf-8")
    (tmp_path / "long.csv").write_text(TABLE, encoding="cp1252")
    mapping = load_mapping(tmp_path / "long.toml", specs)
    return plan_import(tmp_path / "long.csv", mapping, specs=specs, now=NOW, by="B")


def test_rows_of_one_time_and_point_become_one_sample(plan: ImportPlan) -> None:
    """Three rows, one sample; the belt is a point of its own. 1 psi = 6.894757 kPa (NIST SP 811, B.8)."""
    mixed, belt = plan.samples
    results = {result.property: result.value for result in mixed.results}
    expected = {
        "moisture": 3.2,
        "green_compression_strength": 23.2 * 6.894757,
        "compactability": 42,
    }
    assert results == pytest.approx(expected, rel=1e-6)
    assert mixed.note == "long.csv, rows 2-4"
    assert (belt.point, belt.at, belt.by) == ("return_belt", mixed.at, "Dorn")
    assert plan.counts.rows == 12


def test_rows_that_cannot_be_taken_say_why(plan: ImportPlan) -> None:
    """Another value, unknown test, point and unit, a foreign decimal mark, no time, no date, no test."""
    told = {(note.row, note.column): note.what + note.do for note in plan.notes if note.severity == "refused"}
    for place, words in {
        (6, "D"): "which has '3,2'",
        (7, "C"): "did you mean 'water'?",
        (8, "B"): "did you mean 'Belt'?",
        (9, "D"): "decimal mark '.'",
        (10, "D"): "not a unit of Green compression strength",
        (11, "A"): "no time of day",
        (12, "A"): "no date",
        (13, "C"): "no property is named",
    }.items():
        assert words in told.pop(place)
    assert not told
