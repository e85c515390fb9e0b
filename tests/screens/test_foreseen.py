"""What the balance did not foresee, on the Charts screen: run beside the lab's thread, only where opened."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from textual import events

from sandlab.lab import innovations
from sandlab.lab.innovations import Gathered, Met
from tests.lab.conftest import Clock
from tests.lab.sand_plant import sand_line
from tests.screens.conftest import NOW
from tests.screens.hand import Hand, play

WAITS = "The sand balance is run over the last 30 days"


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Five days of a small line, written once."""
    folder = tmp_path_factory.mktemp("sand") / "plant"
    with sand_line(folder, NOW, days=5):
        return folder


@pytest.fixture
def sand(written: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    return Path(shutil.copytree(written, tmp_path / "plant"))


def test_f_leads_from_the_tests_to_what_was_not_foreseen_and_back(sand: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter")
        assert "Compactability [%]" in hand.text()
        await hand.press("f")
        assert "Compactability, measured less foreseen [deviations]" in hand.text()
        assert "limits -3.0 to 3.0: the standard deviations that the balance itself expects" in hand.words()
        assert WAITS not in hand.text()
        await hand.press("left")
        assert "measured 4" in hand.text()
        for key, words in (
            ("f6", "there are none to freeze"),
            ("x", "Leave the test itself out"),
            ("r", "Relations are between tests"),
            ("enter", "f leads there"),
        ):
            await hand.press(key)
            assert words in hand.words()
        await hand.press("f8")
        assert "moving average" in hand.text()
        await hand.press("f")
        assert "Compactability [%]" in hand.text()
        await hand.press("f", "pagedown")
        assert "Moisture [%]" in hand.text()

    play(story, sand, clock=clock)


def test_it_stands_below_the_tests(sand: Path, clock: Clock) -> None:
    """With which property? First of all with what the balance did not foresee of it."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter", "w")
        assert "What the balance did not foresee of it" in hand.text()
        assert "Return-sand moisture" in hand.text()
        await hand.press("enter")
        assert "Compactability [%]" in hand.text()
        assert "Compactability, measured less foreseen [deviations]" in hand.text()
        await hand.press("w")
        assert "less foreseen" not in hand.text()

    play(story, sand, clock=clock, size=(120, 40))


def test_a_property_that_the_balance_foresees_nothing_of(sand: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter", "pageup", "f")
        assert "The balance foresees nothing of it" in hand.words()

    play(story, sand, clock=clock)


def test_the_lab_goes_on_while_the_balance_runs(sand: Path, clock: Clock) -> None:
    """The wall never runs it; while it runs the lab's thread answers; left, it ends at its next step."""
    going, here, ended = threading.Event(), threading.get_ident(), threading.Event()
    runs: list[str] = []

    def slow(gathered: Gathered, progress: Callable[[float], None]) -> Met:
        assert threading.get_ident() != here
        runs.append(threading.current_thread().name)
        going.wait(20.0)
        try:
            progress(0.5)
        finally:
            ended.set()
        raise AssertionError("it went on")

    async def story(hand: Hand) -> None:
        await hand.press("f3", "f8", "f8", "enter")
        assert runs == []
        hand.app.post_message(events.Key("f", "f"))
        await hand.until(WAITS, within_s=20.0)
        hand.app.post_message(events.Key("pagedown", None))
        await hand.until("Moisture [%]", within_s=20.0)
        hand.app.post_message(events.Key("escape", None))
        await hand.until("need attention", within_s=20.0)
        going.set()
        await hand.settle()
        assert ended.wait(20.0)
        assert "did not work" not in hand.text()
        assert "out of date" not in hand.text()
        assert len(runs) == 1

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(innovations, "met", slow)
        play(story, sand, clock=clock)
