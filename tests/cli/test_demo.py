"""The demo: an invented foundry made complete or not at all, kept until told otherwise."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from sandlab.cli import demo, main
from sandlab.lab.advising import latest_advice, muller
from sandlab.lab.charting import overview
from sandlab.lab.opening import DATABASE, open_lab
from sandlab.labels import data_folder

UNTIL = datetime(2026, 5, 20, 12, 20, tzinfo=UTC)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo plant at a fixed time."""
    folder = tmp_path_factory.mktemp("demo") / "plant"
    demo.make(folder, seed=7, now=UNTIL)
    return folder


def test_the_demo_is_a_plant_like_any_other(made: Path) -> None:
    """Ninety days of tests with frozen limits, a drift that shows, released additions, its own name."""
    lab = open_lab(made, clock=lambda: UNTIL)
    try:
        facts = overview(lab)
        states = {one.property: one.state for one in facts.properties}
        assert lab.specs.plant.name == "Haldmoor Castings"
        assert sum(state in ("in_control", "signal") for state in states.values()) >= 15
        assert "signal" in states.values()
        assert muller(lab).additions
        assert latest_advice(lab)
        newest = max(one.last_at for one in facts.properties if one.last_at)
        assert UNTIL.replace(minute=0) >= newest
    finally:
        lab.close()


def test_it_is_kept_unless_told_otherwise(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A second start leaves the folder as it is; --fresh makes it anew."""
    folder = tmp_path / "demo"
    runs: list[Path] = []

    def fake(place: Path, *, seed: int, now: datetime) -> None:
        runs.append(place)
        place.mkdir()
        (place / DATABASE).touch()
        (place / demo.MARKER).touch()

    monkeypatch.setattr(demo, "make", fake)
    command = ["--plant", str(folder), "demo", "--no-screen"]
    assert main(command) == 0
    assert main(command) == 0
    assert len(runs) == 1
    assert main([*command, "--fresh"]) == 0
    assert len(runs) == 2
    assert "Demo plant in" in capsys.readouterr().out


@pytest.mark.parametrize("more", [[], ["--fresh"]])
def test_a_real_plant_is_neither_removed_nor_shown_as_the_demo(
    more: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder without the demo's marker is left alone: nobody tries things out in a plant unawares."""
    folder = tmp_path / "real"
    folder.mkdir()
    (folder / DATABASE).write_bytes(b"records")
    monkeypatch.setenv("SANDLAB_PLANT", str(folder))
    assert main(["demo", "--no-screen", *more]) == 1
    assert (folder / DATABASE).read_bytes() == b"records"
    assert "holds no demo" in capsys.readouterr().err


def test_a_killed_first_start_leaves_nothing_half_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The plant appears complete; what an interrupted start left beside it is cleared by the next."""
    folder = tmp_path / "demo"

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(demo, "_freeze", stop)
    monkeypatch.setattr(demo, "_fill", lambda *_: None)
    with pytest.raises(KeyboardInterrupt):
        demo.make(folder, seed=7, now=UNTIL)
    assert not folder.exists()


@pytest.fixture
def run(
    made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, str, str]]:
    """Run a command on a copy of the demo's specs with an empty store."""
    import shutil

    shutil.copytree(made / "specs", tmp_path / "plant" / "specs")

    def command(*words: str) -> tuple[int, str, str]:
        code = main(["--plant", str(tmp_path / "plant"), *words])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return command


def test_the_old_workbook_comes_in_once(run: Callable[..., tuple[int, str, str]]) -> None:
    """Dry run first, then all of it, then nothing more of the same file."""
    workbook, mapping = (
        str(data_folder("sample_data") / name) for name in ("old_workbook.xlsx", "mapping.toml")
    )
    command = ("import", workbook, "--mapping", mapping, "--by", "JV")
    code, out, err = run(*command)
    assert code == 0, err
    assert "would be added" in out
    assert "samples 0" not in out
    assert run("sheet")[1] == ""
    code, out, err = run(*command, "--commit")
    assert code == 1 and "4 places are refused, so nothing is saved" in err and "--confirm refused" in err
    assert run("sheet")[1] == ""
    command = (*command, "--confirm", "refused")
    code, out, err = run(*command, "--commit")
    assert code == 0, err
    first = run("sheet", "--last", "500")[1]
    assert "working bond" in first.lower()
    code, out, _ = run(*command, "--commit")
    assert "0 samples added" in out
    assert run("sheet", "--last", "500")[1] == first
