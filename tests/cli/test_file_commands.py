"""Commands whose answer is a file: what they write, what they say, and the code they end with."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sandlab.cli import main


@pytest.fixture
def plant(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Path:
    """A plant on Copenhagen's clock with one test just before local midnight and one just after."""
    folder = tmp_path / "plant"
    (folder / "specs").mkdir(parents=True)
    (folder / "specs" / "system.toml").write_text('[plant]\ntime_zone = "Europe/Copenhagen"\n')
    monkeypatch.setenv("SANDLAB_PLANT", str(folder))
    for value, at in (("41", "2024-03-02T23:50"), ("42", "2024-03-03T00:10")):
        words = ["record", f"compactability={value}", "--by", "JV", "--at", at, "--confirm", "taken_at"]
        assert main(words) == 0
    capsys.readouterr()
    return folder


def test_a_day_as_the_end_counts_whole(
    plant: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The plant's day, not UTC's: the test at ten past midnight belongs to the next one."""
    words = ["export", "--from", "2024-03-02", "--to", "2024-03-02", "--format", "csv", "--json"]
    assert main([*words, "--out", str(tmp_path / "day")]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts["rows"]["samples"] == 1
    assert (facts["since"], facts["until"]) == ("2024-03-01T23:00:00Z", "2024-03-02T22:59:59.999999Z")


def test_a_pack_is_written_and_checked(
    plant: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The command ends with 1 when something was changed, and says what."""
    folder = tmp_path / "pack"
    assert main(["evidence", "--from", "2024-03-02", "--to", "2024-03-03", "--out", str(folder)]) == 0
    assert "Note the last link" in capsys.readouterr().out
    assert main(["evidence", "--verify", str(folder), "--rebuild"]) == 0
    (folder / "samples.csv").write_text("nothing\n")
    assert main(["evidence", "--verify", str(folder)]) == 1
    assert "samples.csv: was changed" in capsys.readouterr().out
    assert main(["evidence"]) == 1
    assert "--out: is not given" in capsys.readouterr().err


def test_a_report_is_words_or_a_file(plant: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Made at a given time it is the same file again."""
    assert main(["report", "--shift", "2024-03-02T23:00"]) == 0
    assert "Compactability" in capsys.readouterr().out
    for name in ("one", "two"):
        out = str(tmp_path / f"{name}.html")
        assert main(["report", "--month", "2024-03", "--made", "2024-04-01T06:00", "--out", out]) == 0
    assert "March 2024: 1 page" in capsys.readouterr().out
    assert (tmp_path / "one.html").read_bytes() == (tmp_path / "two.html").read_bytes()
    assert main(["report", "--month", "2024-04", "--made", "2024-03-20"]) == 1
    assert "has not begun yet" in capsys.readouterr().err
    assert main(["report", "--out", str(tmp_path / "one.html")]) == 1
    assert "exists already" in capsys.readouterr().err


@pytest.mark.parametrize(
    "words",
    [
        ["report"],
        ["export", "--out", "out.xlsx"],
        ["evidence", "--from", "2024-03-02", "--to", "2024-03-03", "--out", "out"],
    ],
)
def test_looking_into_a_folder_without_a_plant_begins_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    """A misspelt folder is told, and left alone."""
    folder = tmp_path / "plnt"
    assert main([*words, "--plant", str(folder)]) == 1
    assert "holds no plant yet" in capsys.readouterr().err
    assert not folder.exists()


@pytest.mark.parametrize("end", ["--from", "--to"])
@pytest.mark.parametrize("written", ["0001-01-01", "9999-12-31", "0001-01-01T00:00+00:00"])
def test_the_ends_of_the_calendar_are_told(
    plant: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], end: str, written: str
) -> None:
    """Where a time has no neighbours, in any zone."""
    words = ["export", "--format", "csv", "--out", str(tmp_path / "out"), end, written]
    assert main(words) == 1
    assert f"'{written}' lies outside the years 1900 to 2199" in capsys.readouterr().err


def test_an_export_comes_in_at_another_plant(
    plant: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a mapping: a dry run, then saved, then known; the other plant's sheet shows the same tests."""
    out, other = str(tmp_path / "all"), str(tmp_path / "other")
    assert main(["export", "--format", "csv", "--out", out]) == 0
    for more, said in (
        ([], "2 samples would be added, 0 known already. Nothing is saved: it is an export of sandlab"),
        (["--commit"], "2 samples added, 0 known already."),
        (["--commit"], "0 samples added, 2 known already."),
    ):
        assert main(["--plant", other, "import", out, "--by", "KD", *more]) == 0
        assert said in capsys.readouterr().out
    sheets = []
    for folder in (str(plant), other):
        assert main(["--plant", folder, "sheet", "--json"]) == 0
        sheets.append(json.loads(capsys.readouterr().out)["samples"])
    assert sheets[0] == sheets[1] and len(sheets[0]) == 2
