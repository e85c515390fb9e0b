"""Files out stand complete in their place or not at all, whoever else writes, and whatever runs out."""

from __future__ import annotations

import os
import time
from pathlib import Path

import polars as pl
import pytest
from xlsxwriter.exceptions import FileCreateError

from sandlab.errors import InputError
from sandlab.lab.exporting import Format, export
from sandlab.lab.opening import Lab
from sandlab.lab.periods import Period
from sandlab.reporting.places import ENDING, LEFT_BEHIND_S, fresh_file, fresh_folder


def test_two_that_write_at_once_do_not_touch_each_others(tmp_path: Path) -> None:
    """The first to finish has the place, the other is refused; neither sees a file of the other."""
    out = tmp_path / "out"
    with pytest.raises(InputError, match="exists already"), fresh_folder(out) as one:
        (one / "a").write_text("first")
        with fresh_folder(out) as other:
            (other / "b").write_text("second")
        (one / "c").write_text("first")
    assert {path.name: path.read_text() for path in out.iterdir()} == {"b": "second"}
    file = tmp_path / "file.pdf"
    with pytest.raises(InputError, match="exists already"), fresh_file(file) as one:
        one.write_text("first")
        with fresh_file(file) as other:
            other.write_text("second")
    assert file.read_text() == "second" and sorted(tmp_path.iterdir()) == [file, out]


def test_what_fails_leaves_nothing(tmp_path: Path) -> None:
    """Neither in place nor beside."""
    with pytest.raises(RuntimeError), fresh_folder(tmp_path / "out") as building:
        (building / "half").touch()
        raise RuntimeError
    assert list(tmp_path.iterdir()) == []


def test_what_a_killed_process_left_is_taken_away_a_day_later(tmp_path: Path) -> None:
    """Only under the same name, and only when nobody can be writing any more."""
    old, new, others = (tmp_path / f".{name}.x{ENDING}" for name in ("out", "out.new", "another"))
    for path in (old, new, others):
        path.mkdir()
    long_ago = time.time() - LEFT_BEHIND_S - 60.0
    for path in (old, others):
        os.utime(path, (long_ago, long_ago))
    with fresh_folder(tmp_path / "out"):
        pass
    assert not old.exists() and new.exists() and others.exists()


@pytest.mark.parametrize("name", ["a" * 300, "b" * 300 + "/x"])
def test_names_no_disk_takes_are_told(tmp_path: Path, name: str) -> None:
    """Longer than a file system allows."""
    with pytest.raises(InputError, match="cannot be written"), fresh_file(tmp_path / name):
        pytest.fail("nothing to write to")


def test_the_folder_one_stands_in_is_not_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A shell would stand in a folder that is gone."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError, match="the folder you are in"), fresh_folder(Path()):
        pytest.fail("nothing to fill")


@pytest.mark.parametrize("format", ["parquet", "xlsx"])
def test_a_full_disk_is_told_and_nothing_stays(
    lab: Lab, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, format: Format
) -> None:
    """The errors as polars and xlsxwriter gave them on a full tmpfs."""
    full = "No space left on device"

    def parquet(*_: object, **__: object) -> None:
        raise pl.exceptions.ComputeError(
            f"parquet: File out of specification: underlying IO error: {full} (os error 28)"
        )

    def workbook(path: Path, *_: object, **__: object) -> None:
        path.touch()
        raise FileCreateError(f"[Errno 28] {full}")

    place = tmp_path / ("out.xlsx" if format == "xlsx" else "out")
    with monkeypatch.context() as patched:
        patched.setattr(pl.DataFrame, "write_parquet", parquet)
        patched.setattr("sandlab.reporting.workbook._write", workbook)
        with pytest.raises(InputError, match=f"cannot be written: {full}"):
            export(lab, place, format=format, period=Period())
    assert not place.exists() and not [one for one in tmp_path.iterdir() if ENDING in one.name]
