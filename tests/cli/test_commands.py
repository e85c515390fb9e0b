"""The command line says the same facts as the screens, as lines and as JSON that fits its schema."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import jsonschema
import pytest

from sandlab.cli import main
from sandlab.cli.words import SCHEMAS

SCHEMA_FOLDER = Path(__file__).parent / "schemas"
HOUR = [
    "compactability=42",
    "moisture=3,3",
    "green_compression_strength=160",
    "permeability=110",
    "specimen_weight=149.5",
    "sand_temperature=34",
    "active_clay=7.6",
    "volatiles=1.7",
]

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Iterator[Run]:
    """Run a command on a plant of its own; gives exit code, standard output and standard error."""
    monkeypatch.setenv("SANDLAB_PLANT", str(tmp_path / "plant"))

    def command(*words: str) -> tuple[int, str, str]:
        code = main(list(words))
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    yield command


def answer(run: Run, *words: str) -> dict[str, object]:
    """The JSON of a command, checked against the committed schema."""
    code, out, err = run(*words, "--json")
    assert code == 0, err
    facts: dict[str, object] = json.loads(out)
    committed = json.loads((SCHEMA_FOLDER / f"{words[0]}.json").read_text(encoding="utf-8"))
    jsonschema.validate(facts, committed)
    return facts


def test_committed_schemas_are_those_the_tool_prints(run: Run) -> None:
    """One schema per command with JSON, word for word."""
    for command in SCHEMAS:
        code, out, _ = run("schema", command)
        assert code == 0
        committed = (SCHEMA_FOLDER / f"{command}.json").read_text(encoding="utf-8")
        assert json.loads(out) == json.loads(committed), f"schema of {command} has changed"
    assert {path.stem for path in SCHEMA_FOLDER.glob("*.json")} == set(SCHEMAS)


def test_a_shift_in_commands(run: Run) -> None:
    """Log, advise, release, acknowledge, override, correct: every answer fits its schema."""
    saved = answer(run, "record", *HOUR, "--by", "JV")
    sample = str(saved["sample"]["sample"])  # type: ignore[index]
    assert answer(run, "due")["sets"]
    assert answer(run, "sheet")["samples"]
    assert answer(run, "overview")["properties"]
    assert answer(run, "chart", "moisture")["points"]
    advice = answer(run, "advise", "--by", "JV")
    assert answer(run, "additions")["release"] is None
    released = answer(run, "release", "--by", "JV")
    assert [one["kg"] for one in advice["additions"]] == [  # type: ignore[attr-defined, index]
        {one["feeder"]: one["kg"] for one in released["additions"]}[name["feeder"]]  # type: ignore[attr-defined, index]
        for name in advice["additions"]  # type: ignore[attr-defined]
    ]
    assert answer(run, "acknowledge", "--by", "AK")["acknowledged_by"] == "AK"
    made = answer(run, "batch", "water=20", "bentonite=11.5", "--by", "AK")
    assert made["number"] == 1 and made["added_kg"] == {"water": 20.0, "bentonite": 11.5}
    assert made["recommendation"] == advice["recommendation"]
    assert made["text"] == "Batch 1: water 20 kg, bentonite 11.5 kg"
    overridden = answer(run, "override", "water=21", "--by", "AK", "--reason", "looks wet")
    assert overridden["override_reason"] == "looks wet"
    corrected = answer(run, "correct", sample, "moisture=3.4", "--by", "AB", "--reason", "typo")
    assert "3.40" in json.dumps(corrected)
    voided = answer(run, "correct", sample, "permeability=", "--by", "AB", "--reason", "leak")
    assert "permeability" not in {one["property"] for one in voided["sample"]["results"]}  # type: ignore[index]
    assert answer(run, "event", "new lot", "--by", "MO")["text"] == "new lot"
    assert answer(run, "check")["ok"] is True


def test_freezing_from_the_command_line(run: Run) -> None:
    """Twelve tests logged at their own times, then limits frozen from them."""
    start = datetime.now(UTC).replace(minute=0) - timedelta(hours=13)
    for place, value in enumerate([149, 151, 150, 152, 148, 151, 150, 149, 152, 150, 151, 149]):
        at = (start + timedelta(hours=place)).isoformat()
        assert run("record", f"specimen_weight={value}", "--by", "JV", "--at", at)[0] == 0
    window = ["--from", start.isoformat(), "--to", datetime.now(UTC).isoformat()]
    facts = answer(run, "freeze", "specimen_weight", *window, "--by", "MO", "--reason", "first limits")
    assert facts["count"] == 12
    chart = answer(run, "chart", "specimen_weight")
    assert chart["state"] in ("in_control", "stale")
    _, drawn, _ = run("chart", "specimen_weight", "--glyphs", "ascii")
    assert drawn.isascii()
    assert "frozen by MO" in drawn


def test_messages_say_where_what_and_what_to_do(run: Run) -> None:
    """Every wrong field in one go, on standard error, exit code 1, nothing saved."""
    code, out, err = run("record", "compactability=abc", "moistre=3.2", "moisture=-1", "--by", "JV")
    assert (code, out) == (1, "")
    assert "Compactability: 'abc' is not a number" in err
    assert "did you mean 'moisture'?" in err
    assert "Moisture: -1.00 is impossible" in err
    assert answer(run, "sheet")["samples"] == []


def test_doubt_names_the_word_that_confirms_it(run: Run) -> None:
    """The message ends in the option to add."""
    code, _, err = run("record", "compactability=24", "--by", "JV")
    assert code == 1
    assert "--confirm compactability" in err
    assert run("record", "compactability=24", "--by", "JV", "--confirm", "compactability")[0] == 0


def test_readings_on_the_command_line(run: Run) -> None:
    """VALUE may be readings: ':' between readings, ';' between repeats, comma or point in the numbers."""
    saved = answer(
        run, "record", "moisture=50:48,4;50:48.35", "--method", "moisture=moisture_oven", "--by", "JV"
    )
    assert saved["sample"]["results"][0]["text"] == "3.25"  # type: ignore[index]


def test_check_reports_every_problem_and_exits_with_1(run: Run, tmp_path: Path) -> None:
    """File, table, key, what is wrong, nearest valid name."""
    folder = tmp_path / "other"
    (folder / "specs").mkdir(parents=True)
    (folder / "specs" / "properties.toml").write_text('[moisture]\ndecimal = 2\nunit = "percent"\n')
    (folder / "specs" / "methods.toml").write_text('[moisture_oven]\nfunction = "moistur"\n')
    code, out, _ = run("check", str(folder))
    assert code == 1
    assert "did you mean 'decimals'?" in out
    (folder / "specs" / "properties.toml").unlink()
    code, out, _ = run("check", str(folder))
    assert code == 1
    assert "methods.toml [moisture_oven]" in out
    assert "did you mean 'moisture'?" in out


def test_times_without_an_offset_are_the_plants_wall_clock(run: Run, tmp_path: Path) -> None:
    """14:00 at a plant in Madrid is 13:00 UTC in winter; nonsense is told."""
    specs = tmp_path / "plant" / "specs"
    specs.mkdir(parents=True)
    (specs / "system.toml").write_text('[plant]\ntime_zone = "Europe/Madrid"\n')
    saved = answer(
        run, "record", "moisture=3.3", "--by", "JV", "--at", "2026-01-15T14:00", "--confirm", "taken_at"
    )
    assert datetime.fromisoformat(saved["sample"]["taken_at"]) == datetime(2026, 1, 15, 13, tzinfo=UTC)  # type: ignore[index]
    code, _, err = run("record", "moisture=3.3", "--by", "JV", "--at", "yesterday")
    assert code == 1
    assert "is not a time" in err


def test_unknown_commands_and_systems(run: Run) -> None:
    """The nearest valid name is offered."""
    code, _, err = run("schema", "charts")
    assert code == 1
    assert "did you mean 'chart'?" in err
    code, _, err = run("--system", "mian", "due")
    assert code == 1
    assert "did you mean 'main'?" in err


def test_without_a_terminal_the_screens_do_not_open(run: Run) -> None:
    """A process without keyboard says so instead of waiting for keys for ever."""
    code, _, err = run()
    assert code == 1
    assert "not a terminal" in err
    assert "sandlab --help" in err


def test_check_says_when_there_is_no_such_folder(run: Run, tmp_path: Path) -> None:
    """A misspelt path is not a plant in order."""
    code, out, _ = run("check", str(tmp_path / "plnat"))
    assert code == 1
    assert "does not exist" in out
    (tmp_path / "file").touch()
    code, out, _ = run("check", str(tmp_path / "file"))
    assert code == 1
    assert "is not a folder" in out


def test_an_interrupt_is_told_in_words(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Wherever a command is when Ctrl+C comes; the exit code is the shells' own for it."""

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("sandlab.cli.parser.build", interrupted)
    assert run("due") == (130, "", "broken off\n")


def test_a_plant_is_not_begun_unnoticed(run: Run) -> None:
    """A misspelt --plant would take the records elsewhere; it is said, once."""
    assert "A new plant begins in" in run("due")[2]
    assert run("due")[2] == ""


def test_reading_needs_no_right_to_write(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a read-only folder what is recorded can be read; a new record is refused with the reason."""
    assert run("record", "moisture=3.3", "--by", "JV")[0] == 0
    monkeypatch.setattr("sandlab.store.places.os.access", lambda *_: False)
    assert len(answer(run, "sheet")["samples"]) == 1  # type: ignore[arg-type]
    for command in (["due"], ["overview"], ["additions"], ["chart", "moisture"]):
        assert run(*command)[0] == 0
    code, _, err = run("record", "moisture=3.3", "--by", "JV")
    assert code == 1
    assert "may not be written" in err
