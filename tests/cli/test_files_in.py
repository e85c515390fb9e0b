"""Files and instruments on the command line: dry run, commit, progress, states; JSON that fits its schema."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from sandlab.cli.import_commands import _Progress
from tests.cli.test_commands import Run, answer, run

__all__ = ["run"]
TABLE = "Date,Time,CB [%],Clay\n" + "".join(f"2026-02-{day:02d},06:00,42,8\n" for day in range(1, 28))


def test_an_import_without_a_mapping_proposes_tries_and_only_then_saves(run: Run, tmp_path: Path) -> None:
    """The first call keeps a mapping, the second uses it, the third finds everything known."""
    file = tmp_path / "february.csv"
    file.write_text(TABLE, encoding="utf-8")
    code, out, _ = run("import", str(file), "--by", "KD", "--commit")
    assert code == 0
    assert "A mapping is proposed:" in out
    assert "compactability" in out
    assert "not used" in out
    assert "27 samples would be added" in out
    facts = answer(run, "import", str(file), "--by", "KD", "--commit")
    assert (facts["added"], facts["committed"], facts["proposed"]) == (27, True, False)
    again = answer(run, "import", str(file), "--by", "KD", "--commit")
    assert (again["added"], again["already_known"]) == (0, 27)


def test_a_misspelt_name_begins_no_plant(run: Run, tmp_path: Path) -> None:
    """The name is told before anything is made."""
    folder = tmp_path / "nothing yet"
    code, _, said = run("--plant", str(folder), "import", str(tmp_path / "gone.xlsx"), "--by", "KD")
    assert code == 1 and "no such file" in said
    assert not folder.exists()


def test_progress_is_told_on_standard_error_where_somebody_watches(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line, written over and taken away; nothing when it goes into a file."""
    progress = _Progress()
    progress.tell("reading rows", 1000, 5000)
    assert capsys.readouterr().err == ""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    progress.tell("reading rows", 1000, 5000)
    progress.tell("saving", 0, 1)
    progress.end()
    written = capsys.readouterr().err
    assert written.startswith("\rreading rows 1000 of 5000\rsaving ...")
    assert written.endswith("\r")


def test_ctrl_c_breaks_a_commit_off_and_nothing_is_saved(run: Run, tmp_path: Path) -> None:
    """The signal comes while rows are written; then the same command saves all of them."""
    file = tmp_path / "february.csv"
    file.write_text(TABLE, encoding="utf-8")
    assert run("import", str(file), "--by", "KD")[0] == 0
    tell = _Progress.tell

    def interrupted(self: _Progress, what: str, done: int, of: int) -> None:
        if what == "saving rows" and done == of:
            signal.raise_signal(signal.SIGINT)
        tell(self, what, done, of)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(_Progress, "tell", interrupted)
        code, _, err = run("import", str(file), "--by", "KD", "--commit")
    assert (code, "was broken off; nothing was saved" in err) == (1, True)
    assert answer(run, "sheet")["samples"] == []
    assert answer(run, "import", str(file), "--by", "KD", "--commit")["added"] == 27
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_instruments_say_how_they_are(run: Run, tmp_path: Path) -> None:
    """None is described as shipped; then one that nobody listens to."""
    assert "No instrument is described" in run("instruments")[1]
    (tmp_path / "plant" / "specs").mkdir()
    text = '[b]\nlabel = "Balance"\nconnection = "folder"\nport = "drop"\nlines = ["{specimen_weight} g"]\n'
    (tmp_path / "plant" / "specs" / "instruments.toml").write_text(text, encoding="utf-8")
    facts = answer(run, "instruments")
    (one,) = facts["instruments"]  # type: ignore[misc]
    assert (one["state"], one["label"]) == ("not_listened_to", "Balance")
    code, _, err = run("instruments", "--take-batches", "--by", "KD")
    assert code == 1
    assert "none is waiting" in err


def test_listening_without_a_screen_hears_until_it_is_stopped(tmp_path: Path) -> None:
    """A process of its own; what it heard is offered to everybody else."""
    plant = tmp_path / "plant"
    (plant / "specs").mkdir(parents=True)
    (plant / "drop").mkdir()
    text = '[b]\nlabel = "Balance"\nconnection = "folder"\nport = "drop"\nlines = ["{specimen_weight} g"]\n'
    (plant / "specs" / "instruments.toml").write_text(text, encoding="utf-8")
    (plant / "drop" / "one.txt").write_text("151.2 g\n", encoding="utf-8")
    command = [sys.executable, "-m", "sandlab", "instruments", "--plant", str(plant)]
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        [*command, "--listen"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment
    ) as process:
        assert process.stdout is not None
        try:
            for line in process.stdout:
                if "last heard" in line:
                    break
            done = subprocess.run([*command, "--json"], capture_output=True, text=True, check=True)
        finally:
            process.terminate()
    facts = json.loads(done.stdout)
    assert facts["listening"]
    assert [(one["target"], one["value"]) for one in facts["offers"]] == [("specimen_weight", 151.2)]
    assert (plant / "drop" / "done" / "one.txt").exists()
