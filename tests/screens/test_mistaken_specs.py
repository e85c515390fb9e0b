"""A slip in a spec file: the additions stay in sight, the mistakes are told, and the lab can go on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sandlab.cli import main
from sandlab.errors import SpecsError
from sandlab.lab.charting import overview
from sandlab.lab.muller import muller
from sandlab.lab.opening import open_lab
from sandlab.schedule import home_point
from sandlab.store import Store
from tests.lab.conftest import Clock
from tests.screens.conftest import lab_of
from tests.screens.hand import Hand, play

SLIP = '\n[systems.main.targets.moisture]\ntarget = "three"\n'


@pytest.fixture
def mistaken(plant: Path) -> Path:
    """A plant whose system.toml was edited in a hurry."""
    path = plant / "specs" / "system.toml"
    path.write_text(path.read_text(encoding="utf-8") + SLIP, encoding="utf-8")
    return plant


def test_the_last_release_stays_in_force(mistaken: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["additions", "--plant", str(mistaken)]) == 0
    said = capsys.readouterr()
    assert "Bentonite" in said.out and "kg" in said.out
    assert "those of the last sample stay in force" in said.err and "moisture" in said.err


def test_the_charts_are_what_they_were(plant: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    """A derived property is looked at where the first set is taken, also from texts kept sorted."""
    path = plant / "specs" / "system.toml"
    kept = path.read_text(encoding="utf-8")

    def seen() -> tuple[list[str], dict[str, str]]:
        lab = open_lab(plant, clock=clock)
        found = [one.property for one in overview(lab, rate=False).properties]
        points = {name: home_point(lab.sand, name) for name in lab.specs.properties}
        lab.close()
        return found, points

    before = seen()
    assert before[1]["bulk_density"] == "muller_discharge"
    path.write_text(kept + SLIP, encoding="utf-8")
    assert seen() == before
    read = Store.newest_specs_text
    monkeypatch.setattr(
        Store, "newest_specs_text", lambda store: json.dumps(json.loads(read(store) or ""), sort_keys=True)
    )
    assert seen() == before


def test_the_screens_say_so_once_and_go_on(mistaken: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        assert "The spec files have mistakes; those of the last sample stay in force" in hand.words()
        await hand.press("escape", "f4")
        assert "released by JV" in hand.words()

    play(story, mistaken, clock=clock)


def test_specs_are_those_of_the_newest_sample(mistaken: Path, empty: Path) -> None:
    with lab_of(mistaken) as lab:
        assert lab.doubts and lab.sand.targets["moisture"].target
        assert muller(lab).release
    (empty / "specs" / "system.toml").write_text(SLIP, encoding="utf-8")
    with pytest.raises(SpecsError):
        open_lab(empty)
