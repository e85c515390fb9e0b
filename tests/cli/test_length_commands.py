"""Charts on paper from the command line: printed run lengths, designs and factors; bad ones are refused."""

from __future__ import annotations

import json
import re
from pathlib import Path

import jsonschema
import pytest

from sandlab.cli import main

SCHEMA_FOLDER = Path(__file__).parent / "schemas"

# Words of a command, and the average run length printed for it.
PRINTED = (
    # lucas_crosier1982, table 1 (k 0.5, h 5: 465 and 10.4; h 4 with the head start 2: 5.29 at shift 1)
    ("cusum --decision 5", "465"),
    ("cusum --decision 5 --shift 1", "10.4"),
    ("cusum --decision 4 --head-start 2 --shift 1", "5.29"),
    # brook_evans1972: one-sided k 0.5, h 3
    ("cusum --decision 3 --sides 1", "117.6"),
    # crowder1987, table 1 (weight 0.25, width 3, shift 1)
    ("ewma --weight 0.25 --width 3 --shift 1 --steady 1", "11.15"),
    # champ_woodall1987, table 1: rule 1 alone, and all four of the Western Electric set
    ("rules --rules beyond_limit", "370.4"),
    ("rules", "91.75"),
    # rigdon1995: four components, weight 0.1, shift 1
    ("mewma --components 4 --limit 12.73 --shift 1", "12.15"),
    # kramer_schmid2000, table 1
    ("individuals --phi 0.4 --width 3.09023 --shift 1", "61.85"),
)


def run(capsys: pytest.CaptureFixture[str], line: str) -> tuple[int, str, str]:
    """A command with its output."""
    code = main(line.split())
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def answer(capsys: pytest.CaptureFixture[str], line: str) -> dict[str, object]:
    """The JSON of a command, checked against the committed schema."""
    code, out, err = run(capsys, f"{line} --json")
    assert code == 0, err
    facts: dict[str, object] = json.loads(out)
    schema = json.loads((SCHEMA_FOLDER / f"{line.split()[0]}.json").read_text(encoding="utf-8"))
    jsonschema.validate(facts, schema)
    return facts


@pytest.mark.parametrize(("line", "printed"), PRINTED)
def test_printed_run_lengths_come_out(line: str, printed: str, capsys: pytest.CaptureFixture[str]) -> None:
    """To half the last printed digit."""
    facts = answer(capsys, f"runlength {line}")
    places = len(printed.partition(".")[2])
    assert facts["mean"] == pytest.approx(float(printed), abs=0.5 * 10.0**-places + 1e-9)


@pytest.mark.parametrize("chart", ["ewma", "cusum", "crosier", "individuals", "moving_range", "mewma"])
def test_every_chart_has_usual_settings(chart: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Without any option too; nothing is not a number."""
    code, out, _ = run(capsys, f"runlength {chart}")
    assert code == 0
    assert "tests on average" in out
    assert not re.search(r"\bnan\b|\binf\b", out)


def test_limits_from_a_baseline_are_told_to_two_digits(capsys: pytest.CaptureFixture[str]) -> None:
    """The figure holds within 12 % of simulation, so that more digits would say what nobody knows."""
    _, out, _ = run(capsys, "runlength individuals --baseline 30")
    assert "after about 790 tests on average" in out
    assert answer(capsys, "runlength individuals --baseline 30")["mean"] == pytest.approx(790.0, rel=0.12)


def test_a_limit_is_solved_for_a_wish(capsys: pytest.CaptureFixture[str]) -> None:
    """Asked back, the chart alarms as rarely as it was solved for."""
    for chart, limit in (("ewma", "width"), ("cusum", "decision"), ("mewma", "limit")):
        settings = answer(capsys, f"runlength {chart} --once-in 250")["settings"]
        assert isinstance(settings, dict)
        asked = f"runlength {chart} --{limit} {settings[limit]}"
        assert answer(capsys, asked)["mean"] == pytest.approx(250.0, rel=1e-4)


def test_tests_that_resemble_are_simulated_with_their_error(capsys: pytest.CaptureFixture[str]) -> None:
    """At phi 0 the simulation would give the equation's 91.75; here its error is told."""
    facts = answer(capsys, "runlength rules --phi 0.3")
    assert isinstance(facts["error"], float)
    assert facts["error"] > 0.0
    assert "simulated" in str(facts["words"])


def test_a_design_reaches_what_it_says(capsys: pytest.CaptureFixture[str]) -> None:
    """lucas_crosier1982, table 1: k 0.5 and h 4 alarm once in 168 and find one sigma in 8.38 tests."""
    facts = answer(capsys, "design cusum --once-in 168 --within 9")
    assert facts["settings"] == pytest.approx({"reference": 0.5, "decision": 4.0}, abs=0.05)
    assert facts["detection"] == pytest.approx(8.38, abs=0.02)
    hard = answer(capsys, "design ewma --within 5")
    assert hard["possible"] is False
    assert "That is the best there is" in str(hard["words"])


def test_factors_are_the_printed_ones(capsys: pytest.CaptureFixture[str]) -> None:
    """nist_handbook 6.3.2.1 and any table of factors, n 5: d2 2.326, c4 0.9400, D4 2.114, B4 2.089."""
    code, out, _ = run(capsys, "factors")
    assert code == 0
    row = next(line for line in out.splitlines() if line.startswith("   5")).split()
    assert row == ["5", "2.3259", "0.8641", "0.9400", "0.0000", "2.1145", "0.0000", "2.0890"]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("runlength ewma --weight -1", "weight"),
        ("runlength crosier --phi 0.3", "it has reference, decision and shift"),
        ("runlength crosier --once-in 100", "only for ewma, cusum and mewma"),
        ("runlength rules --rules foo", "is not a rule"),
        ("runlength individuals --phi 2", "phi"),
        ("runlength cusum --sides 3", "sides"),
        ("design ewma --once-in 1 --shift 0", "shift"),
        ("runlength mewma --components 2.5", "whole number"),
        ("factors --largest 400", "size"),
        ("factors --width -3", "width"),
    ],
)
def test_what_cannot_be_is_refused_in_words(line: str, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Where, what, what to do; no traceback."""
    code, out, err = run(capsys, line)
    assert code != 0
    assert not out
    assert said in err
    assert "Traceback" not in err
