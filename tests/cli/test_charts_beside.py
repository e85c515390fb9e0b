"""Two charts on one time line from the command line: both, and how one follows the other."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import jsonschema
import pytest

from sandlab.cli import main
from tests.lab.sand_plant import sand_line

SCHEMAS = Path(__file__).parent / "schemas"
Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Five days up to now of a small line; these commands only read."""
    plant = tmp_path_factory.mktemp("cli") / "plant"
    with sand_line(plant, datetime.now(UTC) - timedelta(minutes=5), days=5):
        return plant


def run(capsys: Capture, folder: Path, *words: str) -> tuple[int, str]:
    """Exit code and all that is said."""
    code = main(["--plant", str(folder), "chart", *words])
    captured = capsys.readouterr()
    return code, captured.out + captured.err


def both(capsys: Capture, folder: Path, *words: str) -> dict[str, dict[str, object]]:
    """The JSON of two charts, checked against its schema."""
    code, text = run(capsys, folder, *words, "--json")
    assert code == 0, text
    found: dict[str, dict[str, object]] = json.loads(text)
    jsonschema.validate(found, json.loads((SCHEMAS / "chart-with.json").read_text(encoding="utf-8")))
    return found


def test_both_charts_and_their_relation_are_told(folder: Path, capsys: Capture) -> None:
    """The line's compactability swings 32 for each 1 % of the moisture that swings with it."""
    found = both(capsys, folder, "compactability", "--with", "moisture")
    assert found["chart"]["property"] == "compactability"
    assert found["beside"]["property"] == "moisture"
    relation = found["relation"]
    # Derived from how the tests are made: covariance over variance, 1.6 * 0.05 / (0.05^2 + 0.03^2).
    assert relation["slope"] == pytest.approx(1.6 * 0.05 / (0.05**2 + 0.03**2), rel=0.1)
    _, text = run(capsys, folder, "compactability", "--with", "moisture")
    assert str(relation["words"]) in text
    assert str(found["beside"]["words"]) in text


def test_what_has_no_values_of_its_own_has_no_relation(folder: Path, capsys: Capture) -> None:
    for other in ("moisture_innovation", "together"):
        found = both(capsys, folder, "moisture", "--with", other)
        assert found["beside"]["property"] == other
        assert found["relation"] is None
    found = both(capsys, folder, "moisture_innovation", "--with", "water_kg")
    assert found["chart"]["unit"] == "deviations"
    assert found["beside"]["unit"] == "kg"
    code, text = run(capsys, folder, "moisture_innovation", "--with", "moisture_innovation", "--height", "8")
    assert (code, "deviations" in text) == (0, True)


def test_a_property_beside_itself_is_refused(folder: Path, capsys: Capture) -> None:
    code, text = run(capsys, folder, "moisture", "--with", "moisture")
    assert (code, "choose another one" in text) == (1, True)
    code, text = run(capsys, folder, "moisture", "--with", "nobody_innovation")
    assert (code, "it foresees compactability_innovation" in text) == (1, True)
    code, text = run(capsys, folder, "moisture", "--against", "moisture_innovation")
    assert (code, "or name moisture" in text) == (1, True)


def test_the_chart_of_innovations_speaks(folder: Path, capsys: Capture) -> None:
    code, text = run(capsys, folder, "active_clay_innovation")
    assert code == 0
    assert text.startswith("Active clay, measured less foreseen")
    assert "Limits -3.00 / 0.00 / 3.00 deviations: the standard deviations that the balance" in text
    assert "nan" not in text.lower()


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("moisture", "--from", "2026-01-09", "--to", "2026-01-02"), "period: ends before it begins"),
        (("moisture", "--from", "2101-01-01"), "period: holds no test of Moisture; choose another"),
        (("moisture_innovation", "--to", "2001-01-01"), "period: holds no test of Moisture, measured less"),
        (("together", "--from", "2026-01-01"), "is not heeded by the hourly set together; give --last N"),
    ],
)
def test_a_period_that_shows_nothing_is_refused(
    words: tuple[str, ...], reason: str, folder: Path, capsys: Capture
) -> None:
    code, text = run(capsys, folder, *words)
    assert (code, reason in text) == (1, True), text
