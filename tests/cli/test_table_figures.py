"""Figures of a table without times, and with rows that were not measured: tests and rows, never hours."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from sandlab.cli import main


def drifting(path: Path, *, missing: tuple[int, ...] = ()) -> Path:
    """Forty tests around 50, then twenty that rise by 0.3 a row; rows counted from 1 may be empty."""
    draw = random.Random(4)
    rows = []
    for row in range(1, 61):
        value = f"{50.0 + draw.gauss(0.0, 1.0) + 0.3 * max(0, row - 40):.2f}"
        rows.append(f"{row},{'' if row in missing else value}")
    path.write_text("row,x\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def figures(capsys: pytest.CaptureFixture[str], path: Path, *words: str) -> str:
    """The figures of the column as printed."""
    assert main(["figures", "--csv", str(path), "--column", "x", "--baseline-rows", "1:40", *words]) == 0
    return capsys.readouterr().out


def test_the_way_to_a_limit_is_told_in_tests(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = figures(capsys, drifting(tmp_path / "t.csv"), "--tolerance", ":65")
    told = next(line for line in text.splitlines() if "Tolerance 65" in line)
    assert " tests (" in told
    assert " h (" not in told


def test_a_change_is_named_by_its_row(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Rows before the change that hold no test do not shift the count."""
    path = drifting(tmp_path / "t.csv", missing=(5, 6, 7, 44, 45, 50, 51))
    text = figures(capsys, path)
    assert "has been drifting up since row 4" in text.splitlines()[0]
    drift = next(line for line in text.splitlines() if "A drift of" in line)
    assert "a test, missing ones counted, from row 4" in drift
    slope = float(drift.split("A drift of ")[1].split()[0])
    assert slope == pytest.approx(0.3, abs=0.06)


def test_a_pattern_that_goes_on_has_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every alarm is told, but a pattern that is only shown once, with its first and last test."""
    words = ("chart", "--csv", str(drifting(tmp_path / "t.csv")), "--column", "x", "--baseline-rows", "1:40")
    assert main([*words]) == 0
    lines = capsys.readouterr().out.splitlines()
    running = [line for line in lines if line.startswith("shown") and "9 tests running are above" in line]
    assert len(running) == 1
    assert " to row 60, " in running[0]
    assert len([line for line in lines if line.startswith("ALARM")]) > 5


@pytest.mark.parametrize("size", [("--width", "39"), ("--height", "7")])
def test_a_picture_too_small_to_draw_is_refused(
    size: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        main(["chart", "--csv", "t.csv", "--column", "x", *size])
    assert size[0] in capsys.readouterr().err


def test_without_a_baseline_a_table_is_told_to_name_rows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Limits of a table are not frozen: its rows are named; too few tests give none at all."""
    path = drifting(tmp_path / "t.csv")
    words = ("--csv", str(path), "--column", "x")
    for command in ("chart", "figures"):
        assert main([command, *words]) == 0
        out = capsys.readouterr().out
        assert out.splitlines()[0] == (
            "x: 60 tests; for limits, name the rows they come from, such as --baseline-rows 1:30."
        )
        assert "freeze" not in out
    path.write_text("x\n50.0\n", encoding="utf-8")
    assert main(["chart", *words]) == 0
    assert capsys.readouterr().out.splitlines()[0] == "x: 1 test; limits need 8 or more."


def test_a_change_in_a_table_has_its_date(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A table may be years old: a weekday alone would name no day."""
    rows = drifting(tmp_path / "t.csv").read_text(encoding="utf-8").splitlines()[1:]
    at = [f"2019-05-{6 + place // 8:02d} {6 + place % 8:02d}:00" for place in range(60)]
    text = "\n".join(f"{when},{row}" for when, row in zip(at, rows, strict=True))
    (tmp_path / "t.csv").write_text(f"at,row,x\n{text}\n", encoding="utf-8")
    words = ("chart", "--csv", str(tmp_path / "t.csv"), "--column", "x", "--times", "at")
    assert main([*words, "--baseline-rows", "1:40"]) == 0
    assert "drifting up since 11 May 2019 " in capsys.readouterr().out.splitlines()[0]


def test_digits_beyond_the_spread_are_not_shown(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A program writes 3.2703280656: three decimals say all where tests differ by a tenth."""
    draw = random.Random(6)
    text = "\n".join(f"{3.3 + draw.gauss(0.0, 0.08):.10f}" for _ in range(60))
    (tmp_path / "t.csv").write_text(f"x\n{text}\n4.0123456789\n", encoding="utf-8")
    assert main(["chart", "--csv", str(tmp_path / "t.csv"), "--column", "x", "--baseline-rows", "1:60"]) == 0
    assert " 4.012 is above the upper control limit 3." in capsys.readouterr().out
