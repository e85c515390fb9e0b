"""Writing down what the sand goes through, accepting plant values, and advising on a stream."""

from __future__ import annotations

import io
import json
from pathlib import Path

import jsonschema
import pytest

from tests.cli.test_commands import SCHEMA_FOLDER, Run, answer, run

__all__ = ["run"]

JOB = ("--from", "2026-03-02T06:00", "--to", "2026-03-02T14:00", "--by", "HL")


def test_jobs_deliveries_probes_silos_and_feeders(run: Run) -> None:
    """Each is written down with one command and answers in one sentence."""
    poured = answer(run, "produced", "gully grate", "--metal", "31,5", "--sand-to-metal", "7.2", *JOB)
    assert poured["text"] == "gully grate: 31.5 t of metal, sand:metal 7.2, core sand 0 t"
    planned = answer(run, "planned", "manhole cover", "--sand-to-metal", "6.2", *JOB)
    assert "manhole cover planned from" in str(planned["text"])
    lot = answer(
        run, "receipt", "bentonite", "active_clay=88", "--kg", "24000", "--lot", "VK-1", "--by", "PR"
    )
    assert lot["text"] == "Bentonite, lot VK-1: 24000 kg, active clay 88 %"
    probe = answer(run, "probe", "moisture=2,1", "temperature=38", "--by", "PR")
    assert probe["text"] == "Belt probes: moisture 2.1 %, temperature 38 C"
    counted = answer(run, "counted", "bentonite", "18000", "--by", "PR")
    assert counted["text"] == "Bentonite: 18000 kg in the silo"
    weighed = answer(run, "weighed", "bentonite", "--shown", "50", "--came", "48.6", "--by", "PR")
    assert weighed["text"] == "bentonite: 48.6 kg came where 50 kg were shown (-2.8 %)"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("receipt", "bentonit", "--kg", "1", "--lot", "A", "--by", "PR"), "did you mean 'bentonite'?"),
        (("receipt", "bentonite", "--kg", "-1", "--lot", "A", "--by", "PR"), "give 0 kg or more"),
        (("receipt", "bentonite", "clay=88", "--kg", "1", "--lot", "A", "--by", "PR"), "not a component"),
        (("counted", "bentonite", "-5", "--by", "PR"), "a silo holds 0 kg or more"),
        (("weighed", "bentonite", "--shown", "50", "--came", "5", "--by", "PR"), "weigh it again"),
        (("probe", "moisture=88", "--by", "PR"), "leave it out"),
        (("produced", "x", "--metal", "1", "--sand-to-metal", "0", *JOB), "give 0.1 to 100"),
        (("produced", "x", "--metal", "1", "--sand-to-metal", "6", "--from", "2026-03-02T06:00",
          "--to", "2026-03-01T06:00", "--by", "HL"),
         "ends before it begins"),
        (("advise",), "give your initials"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_words(run: Run, words: tuple[str, ...], said: str) -> None:
    """Exit code 1 and a message with what to do; nothing is written."""
    code, _, err = run(*words)
    assert code == 1 and said in err


def test_accepted_values_are_told_with_those_before(run: Run) -> None:
    """Values by hand from a window; without any, those that the window identifies, which here is nothing."""
    window = (
        "--from",
        "2026-02-01T06:00",
        "--to",
        "2026-03-01T06:00",
        "--by",
        "MO",
        "--reason",
        "four weeks",
    )
    facts = answer(run, "accept", "clay_wear_factor=0,31", *window)
    (value,) = facts["values"]  # type: ignore[misc]
    assert (value["text"], value["before_text"]) == ("0.310", "0.330")
    code, out, _ = run("accept", "slope=25", *window)
    assert code == 0 and "clay_wear_factor" in out and "four weeks" in out
    code, _, err = run("accept", *window)
    assert code == 1 and "no batch was logged" in err


def test_the_stream_answers_on_standard_output(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """One line for each advice due, bad lines on standard error with their number, and no plant is made."""
    lines = [
        {"kind": "batch", "at": "2026-03-02T06:00Z", "added_kg": {"bentonite": 10.5, "water": 28.0}},
        {"kind": "result", "property": "compactability", "value": 39.0, "taken": "2026-03-02T06:00Z",
         "known": "2026-03-02T06:05Z"},
        {"kind": "advice_due", "at": "2026-03-02T06:06Z"},
        {"kind": "nonsense"},
        {"kind": "advice_due", "at": "2026-03-02T06:30Z"},
    ]  # fmt: skip
    line_schema = json.loads((SCHEMA_FOLDER / "stream-line.json").read_text(encoding="utf-8"))
    for line in lines[:3]:
        jsonschema.validate(line, line_schema)
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(json.dumps(line) for line in lines)))
    code, out, err = run("advise", "--stream")
    schema = json.loads((SCHEMA_FOLDER / "advise-stream.json").read_text(encoding="utf-8"))
    answers = [json.loads(line) for line in out.splitlines()]
    for one in answers:
        jsonschema.validate(one, schema)
    assert [one["line"] for one in answers] == [3, 5]
    assert code == 1 and err.startswith("line 4, kind: 'nonsense' is not known")
    assert not (tmp_path / "plant").exists()
