"""The box after a save: the next step is in view whatever the sample led to, and a quick hand goes on."""

from __future__ import annotations

from pathlib import Path
from time import sleep

import pytest

from sandlab.errors import SandlabError
from sandlab.lab.opening import Lab
from sandlab.screens import saved
from sandlab.screens.desk import Work
from sandlab.screens.saved import fitting, rows_of
from tests.lab.conftest import Clock
from tests.screens.hand import Hand, play
from tests.screens.test_hourly_round import newest

LONG = [
    f"- {name} is past its reaction limit: the muller screen says HOLD. Repeat the test" for name in "abcdef"
]


async def sample(hand: Hand, *texts: str) -> None:
    """A set typed and saved."""
    for text in texts:
        await hand.type(text)
        await hand.press("enter")
    await hand.press("enter")


def test_sentences_that_do_not_fit_are_counted() -> None:
    assert fitting(LONG, 12) == LONG
    shown = fitting(LONG, 7)
    assert shown == [*LONG[:3], "- and 3 more: F3 shows them on the charts"]
    assert rows_of(shown) == 7
    assert fitting(LONG, 0)[0] == LONG[0]


def test_a_sample_with_everything_wrong_still_shows_what_is_next(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await sample(hand, "32", "4,6", "240", "190", "160", "52")
        assert "Doubtful" in hand.text()
        await hand.press("f6")
        assert "Saved: sample of 13:07" in hand.text()
        assert "React first: take a fresh sample and repeat the test." in hand.words()
        assert "Enter Go on" in hand.words()
        assert "the muller screen says HOLD" in hand.words()
        await hand.type("41")
        assert "Esc first; waits: 41" in hand.words()
        assert "React first: take a fresh sample and repeat the test." in hand.words()
        assert "F7 Work out additions" in hand.words()
        assert "Enter Go on" not in hand.words(), "it would only wait behind the value"

    play(story, plant, clock=clock, warm=True)


def test_a_property_past_its_reaction_limit_is_told_once(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await sample(hand, "30", "3.3", "160", "110", "152", "33")
        assert "Compactability 30 % is past the reaction limit 34 %" in hand.words()
        assert "lower control limit" not in hand.words()

    play(story, plant, clock=clock)


def test_digits_after_a_quiet_save_belong_to_the_next_sample(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await sample(hand, "42", "3.3", "160", "110", "152", "33")
        assert "Nothing calls for action." in hand.words()
        await hand.type("41")
        assert "Enter saves 1 value" in hand.text()
        await hand.press("enter")
        await sample(hand, "3.25", "158", "109", "151", "32")

    play(story, plant, clock=clock)
    assert newest(plant)["compactability"] == 41.0


def test_digits_do_not_close_what_calls_for_action(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await sample(hand, "30", "3.3", "160", "110", "152", "33")
        await hand.type("41")
        assert "React first" in hand.words()

    play(story, plant, clock=clock)


def test_closing_the_box_ends_what_it_still_works_out(
    plant: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The next save must not wait for a sentence that nobody reads any more; no box tells of it."""
    ended: list[SandlabError] = []

    def endless(_lab: Lab, progress: Work) -> str:
        for _ in range(1000):
            sleep(0.01)
            try:
                progress(0.0)
            except SandlabError as error:
                ended.append(error)
                raise
        return "never ended"

    async def story(hand: Hand) -> None:
        for text in ("42", "3.3", "160", "110", "152", "33"):
            await hand.type(text)
            await hand.press("enter")
        monkeypatch.setattr(saved, "change_words", endless)
        hand._post("enter", None)
        await hand.until("Saved: sample of 13:07", within_s=30.0)
        await hand.press("escape")
        assert len(ended) == 1
        assert "nothing typed yet" in hand.text()
        assert "did not work" not in hand.text()

    play(story, plant, clock=clock, warm=True)
