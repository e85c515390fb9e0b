"""The engineer's balance by keys: views, what-if, plant values fitted, stopped and accepted, books."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from threading import Event

import pytest

from sandlab.lab.accepting import accepted
from sandlab.screens.balance_screen import BalanceScreen
from tests.lab.conftest import Clock
from tests.lab.sand_plant import sand_line
from tests.screens import sand_facts
from tests.screens.conftest import NOW, lab_of
from tests.screens.hand import Hand, play
from tests.screens.test_golden import SIZES, compare


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


@pytest.fixture
def still(monkeypatch: pytest.MonkeyPatch) -> None:
    """Answers that never change; the verbs have tests of their own."""
    monkeypatch.setattr("sandlab.screens.balance_screen.balance", sand_facts.state)
    monkeypatch.setattr("sandlab.screens.balance_screen.period_books", sand_facts.week)
    monkeypatch.setattr("sandlab.screens.balance_acts.question", lambda lab, asked: asked)
    monkeypatch.setattr("sandlab.screens.balance_acts.reckon", lambda one, progress: sand_facts.ahead())
    monkeypatch.setattr("sandlab.screens.balance_acts.window_of", lambda lab: None)
    monkeypatch.setattr("sandlab.screens.balance_acts.solve", lambda window, progress: sand_facts.found())


def screen_of(hand: Hand) -> BalanceScreen:
    """The balance in view."""
    assert isinstance(hand.app.screen, BalanceScreen)
    return hand.app.screen


VIEWS = (
    ("balance_books", ("pageup",)),
    ("balance_values", ("f7",)),
    ("balance_what_if", ("pageup",)),
    ("balance_additions", ("pageup",)),
    ("balance_sand", ("pageup", "right", "right", "down")),
)


@pytest.mark.usefixtures("still")
@pytest.mark.parametrize("size", SIZES)
def test_views(plant: Path, clock: Clock, size: tuple[int, int]) -> None:
    """Each view, one after the other."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "f3")
        await compare("balance", size, hand)
        for name, keys in VIEWS:
            await hand.press(*keys)
            await compare(name, size, hand)

    play(story, plant, size=size, clock=clock)


@pytest.mark.usefixtures("still")
@pytest.mark.parametrize("glyphs", ["console", "ascii"])
def test_plain_terminals_get_plain_pictures(plant: Path, clock: Clock, glyphs: str) -> None:
    """Flow and band without a sign that the console lacks."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "f3")
        seen = hand.text()
        await hand.press("pagedown")
        seen += hand.text()
        assert "█" in seen if glyphs == "console" else "#" in seen
        assert "⠁" not in seen and "━" not in seen and "◆" not in seen

    play(story, plant, clock=clock, glyphs=glyphs)


@pytest.mark.usefixtures("still")
def test_the_ways_to_the_balance_and_back(plant: Path, clock: Clock) -> None:
    """F3 twice, F3 again to the charts, Ctrl+o from anywhere; the key list says what the screen decides."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "f3")
        assert "F3 Balance" in hand.text()
        await hand.press("f3")
        assert "F3 Charts" in hand.text() and "need attention" in hand.text()
        await hand.press("f2", "ctrl+o")
        assert "F3 Balance" in hand.text()
        await hand.press("question_mark")
        assert "does the sand go where we want it" in hand.words()
        assert "What if: other jobs" in hand.words()

    play(story, plant, clock=clock)


def test_a_plant_without_batches_says_what_to_do(empty: Path, clock: Clock) -> None:
    """No picture of nothing."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "f3")
        assert "no batch was logged" in hand.words() and "log batches" in hand.words()
        await hand.press("pagedown", "down", "f8")
        assert "nothing to accept yet" in hand.words()

    play(story, empty, clock=clock)


def test_a_what_if_by_keys(sand: Path, clock: Clock) -> None:
    """Two days of one job with more bentonite: the answer stands in the view, a wrong job is refused."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "f3", "f6")
        assert "gully grate, manhole frame" in hand.words()
        await hand.press("down")
        await hand.type("xyz")
        await hand.press("f6")
        assert "job 'xyz'" in hand.words() and "was not poured lately" in hand.words()
        await hand.press(*["backspace"] * 3)
        await hand.type("gully")
        await hand.press("f6")
        assert "Jobs gully grate: sand to metal 5.60, core sand 0.020 t/t" in hand.words()
        assert screen_of(hand).asked.jobs == {"gully grate": 1.0}
        assert "per t of metal" in hand.words()
        await hand.press("f6", "down")
        await hand.type("gully=1; frame=3")
        await hand.press("f6")
        assert screen_of(hand).asked.jobs == {"gully grate": 1.0, "manhole frame": 3.0}
        assert "Jobs gully grate 25%, manhole frame 75%" in hand.words()
        await hand.press("f6", "down", "down", "down")
        await hand.type("9")
        await hand.press("f6")
        assert "core sand" in hand.words() and "9 is not possible" in hand.words()
        await hand.press("enter", "f6", "down", "down", "down", "backspace")
        await hand.type("0,15")
        await hand.press("f6")
        assert screen_of(hand).asked.core_sand_t_per_t == 0.15
        assert "core sand 0.150 t/t" in hand.words()

    play(story, sand, clock=clock)


def test_values_are_fitted_and_accepted_with_a_reason(sand: Path, clock: Clock) -> None:
    """F7 works them out beside the lab's thread; F8 asks why, and the record says who and why."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "f3", "f7")
        assert "results of" in hand.words() and "Wear factor of clay" in hand.text()
        fitted = screen_of(hand).fitted
        sure = [] if fitted is None else [one.label.lower() for one in fitted.values if one.identified]
        await hand.press("f8")
        assert sure and all(one in hand.words().lower() for one in sure)
        await hand.type("25 quiet days")
        await hand.press("enter")
        assert "accepted by AK" in hand.words()
        await hand.press("f8")
        assert "nothing to accept" in hand.words()

    play(story, sand, clock=clock, size=(120, 40))
    with lab_of(sand) as lab:
        record = accepted(lab)
    assert record is not None and (record.by, record.reason) == ("AK", "25 quiet days")
    assert "clay_wear_factor" in record.values or "bond" in record.values


def test_a_fit_without_batches_leaves_no_word_that_it_goes_on(empty: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f3", "f3", "f7")
        assert "This did not work" in hand.words()
        await hand.press("enter")
        assert "no batch was logged" in hand.words()
        assert "Gathering" not in hand.words()

    play(story, empty, clock=clock)


def test_long_work_shows_progress_frees_the_keys_and_stops(
    sand: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While a fit runs, views change and other screens answer; Esc ends it and nothing is changed."""
    going = Event()

    def slow(window: object, progress: Callable[[float], None]) -> object:
        while True:
            progress(0.42)
            going.wait(0.02)

    monkeypatch.setattr("sandlab.screens.balance_acts.solve", slow)

    async def story(hand: Hand) -> None:
        await hand.press("f3", "f3")
        hand._post("f7", None)
        await hand.until("fitting 42%, Esc stops", within_s=20.0)
        hand._post("pagedown", None)
        hand._post("f7", None)
        await hand.until("Still fitting: Esc stops it", within_s=10.0)
        hand._post("f2", None)
        await hand.until("Hourly set", within_s=10.0)
        hand._post("f3", None)
        await hand.until("need attention", within_s=20.0)
        hand._post("f3", None)
        await hand.until("fitting 42%", within_s=10.0)
        await hand.press("escape")
        assert "Stopped. Nothing has been changed." in hand.words()
        assert screen_of(hand).fitted is None and screen_of(hand).work is None

    play(story, sand, clock=clock)
