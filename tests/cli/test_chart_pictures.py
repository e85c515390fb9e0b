"""Charts on one time line, against each other, over a stretch of time, as SVG; tests left out of limits."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from math import sin
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import pytest

from sandlab.cli import main
from sandlab.lab.charting import freeze_baseline
from sandlab.lab.opening import open_lab
from sandlab.records import Result, Sample

SCHEMA_FOLDER = Path(__file__).parent / "schemas"
START = datetime(2026, 3, 2, 6, tzinfo=UTC)
HOURS = 40


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Forty hours of two properties that follow one wave, with limits from the first thirty."""
    folder = tmp_path_factory.mktemp("pictures") / "plant"
    lab = open_lab(folder, clock=lambda: START + timedelta(hours=HOURS))
    samples = []
    for hour in range(HOURS):
        wave, at = sin(hour * 1.7) + sin(hour * 0.6), START + timedelta(hours=hour)
        values = {"compactability": 42.0 + wave, "moisture": 3.3 + 0.05 * wave + 0.01 * sin(hour * 2.9)}
        results = tuple(Result(property=name, value=round(value, 2)) for name, value in values.items())
        samples.append(
            Sample(
                id=lab.new_id(), system=lab.system, at=at, by="JV", recorded_at=at,
                point="muller_discharge", specs_hash=lab.specs.hash, results=results,
            )
        )  # fmt: skip
    lab.store.save(samples, specs_texts={lab.specs.hash: lab.specs.canonical_text})
    for name in ("compactability", "moisture"):
        freeze_baseline(
            lab, name, window_from=START, window_to=START + timedelta(hours=29), by="MO", reason="quiet"
        )
    lab.close()
    return folder


def run(capsys: pytest.CaptureFixture[str], plant: Path, *words: str) -> tuple[int, str, str]:
    """A command on the plant, with its output."""
    code = main([words[0], "--plant", str(plant), *words[1:]])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_two_charts_share_the_time_line(
    plant: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Words of both, one row of dates, and an SVG with both charts."""
    path = tmp_path / "both.svg"
    code, out, _ = run(capsys, plant, "chart", "compactability", "--with", "moisture", "--svg", str(path))
    assert code == 0
    assert [line for line in out.splitlines() if line.startswith("Moisture: Last test")]
    assert sum(line.startswith(("Compactability [%]", "Moisture [%]")) for line in out.splitlines()) == 2
    inner = ElementTree.fromstring(path.read_text(encoding="utf-8")).findall(
        "{http://www.w3.org/2000/svg}svg"
    )
    assert len(inner) == 2


def test_a_relation_is_told_drawn_and_handed_on_as_json(
    plant: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One wave, 1 of it in compactability and 0.05 in moisture: the slope is 0.05."""
    path = tmp_path / "relation.svg"
    words = ("chart", "moisture", "--against", "compactability", "--svg", str(path))
    code, out, _ = run(capsys, plant, *words)
    assert code == 0
    assert "Moisture moves by 0.049 % for each % of compactability" in out
    assert path.read_text(encoding="utf-8").startswith("<svg")
    code, out, _ = run(capsys, plant, *words, "--json")
    facts = json.loads(out)
    jsonschema.validate(facts, json.loads((SCHEMA_FOLDER / "relation.json").read_text(encoding="utf-8")))
    assert facts["slope"] == pytest.approx(0.05, abs=0.003)
    assert len(facts["pairs"]) == HOURS


def test_a_stretch_of_time_is_all_that_is_shown(plant: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ("chart", "compactability", "--from", "2026-03-02T12:00+00:00", "--to", "2026-03-02T15:00+00:00")
    code, out, _ = run(capsys, plant, *words, "--json")
    assert code == 0
    facts = json.loads(out)
    assert [one["at"][11:16] for one in facts["points"]] == ["12:00", "13:00", "14:00", "15:00"]
    assert facts["forecast"]["words"].startswith("If nothing is done, 9 of 10 tests lie between")


def test_a_test_is_left_out_and_counts_again(plant: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sample = json.loads(run(capsys, plant, "chart", "moisture", "--json")[1])["points"][5]["sample"]
    words = ("leave-out", "moisture", sample, "--by", "AK", "--reason", "dish still warm")
    code, out, _ = run(capsys, plant, *words, "--json")
    assert code == 0
    facts = json.loads(out)
    jsonschema.validate(facts, json.loads((SCHEMA_FOLDER / "leave-out.json").read_text(encoding="utf-8")))
    assert facts["flags"] == ["left out of limits by AK: dish still warm"]
    code, _, err = run(capsys, plant, *words)
    assert code == 1
    assert "left out already" in err
    code, out, _ = run(capsys, plant, *words, "--again")
    assert code == 0
    assert "counts again" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("chart", "moisture", "--against", "moisture"), "the same property"),
        (("chart", "moisture", "--against", "compactabilty"), "compactability"),
        (("chart", "moisture", "--with", "compactabilty"), "compactability"),
        (("chart", "moisture", "--from", "yesterday"), "is not a time"),
        (("chart", "moisture", "--svg", "/no/such/folder/x.svg"), "cannot be written"),
        (("chart", "moisture", "--against", "compactability", "--with", "moisture"), "leave out"),
    ],
)
def test_what_cannot_be_done_is_said(
    plant: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str
) -> None:
    code, _, err = run(capsys, plant, *words)
    assert code == 1
    assert said in err
