"""Timers of timed tests, by keys: started with one key, seen everywhere, rung in words and with the bell."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.timing import KeptTimer, KeptTimers, keep_timers, take_up_timers
from tests.lab.conftest import Clock
from tests.screens.hand import Hand, opened, play


@pytest.fixture
def lab(plant: Path, clock: Clock) -> Iterator[Lab]:
    """A terminal's lab, without its screens."""
    lab = open_lab(plant, clock=clock)
    yield lab
    lab.close()


async def tick(hand: Hand) -> None:
    """What the terminal does twice a second, without waiting for it."""
    assert hand.app.timers is not None
    hand.app.timers.tick()
    await hand.settle()


def test_drying_is_started_with_one_key_and_rings_in_words(
    plant: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An hour at 105 C (methods.toml, common practice), seen while other fields are typed."""
    rung: list[timedelta] = []
    start = clock.now

    async def story(hand: Hand) -> None:
        monkeypatch.setattr(hand.app, "bell", lambda: rung.append(clock.now - start))
        await hand.press("down", "insert")
        assert "Drying at 105 C, moisture: 1:00:00 left" in hand.text()
        clock.move(minutes=20)
        await tick(hand)
        await hand.press("up")
        await hand.type("41")
        assert "Drying at 105 C, moisture: 40:00 left" in hand.text()
        assert "in tolerance" in hand.text()
        for screen in ("f3", "f4", "f2"):
            await hand.press(screen)
            assert "Drying at 105 C, moisture: 40:00 left" in hand.text()
        await hand.press("f4")
        clock.move(minutes=42)
        await tick(hand)
        assert "TIME IS UP: Drying at 105 C, moisture, 2 min ago" in hand.text()
        clock.move(seconds=30)
        await tick(hand)
        await hand.press("insert")
        assert "Drying" not in hand.text()
        clock.move(minutes=1)
        hand.app.timers.tick()  # type: ignore[union-attr]

    play(story, plant, clock=clock)
    assert rung == [timedelta(minutes=62), timedelta(minutes=62, seconds=30)], "until somebody answers"


def test_the_air_of_the_permeability_test_is_stopped_into_its_reading(plant: Path, clock: Clock) -> None:
    """From the form: start and stop with the same key; the time waits for the readings."""

    async def story(hand: Hand) -> None:
        await hand.press(*["down"] * 3, "insert")
        clock.move(seconds=23.4)
        await tick(hand)
        assert "Time for the air, permeability: 0:23, Ins stops" in hand.text()
        await hand.press("insert")
        assert "Time for the air stopped: F6 on Permeability takes it into the readings." in hand.words()
        await hand.press("f6")
        assert "Permeability, timed volume of air" in hand.text()
        assert "23.4" in hand.text()
        await hand.type("10")
        await hand.press("enter", "enter")
        assert "from readings" in hand.text()

    play(story, plant, clock=clock)


def test_it_is_stopped_from_within_the_readings(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press(*["down"] * 3, "f6")
        await hand.type("10")
        await hand.press("f8")
        clock.move(seconds=31)
        await hand.press("f8")
        assert "31.0" in hand.text()

    play(story, plant, clock=clock)


def test_several_times_are_chosen_by_a_digit_and_taken_away_the_same_way(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("insert")
        assert "start Drying at 105 C, moisture, 1:00:00" in hand.words()
        assert "start Time for the air, permeability" in hand.words()
        await hand.type("1")
        clock.move(minutes=10)
        await hand.press("insert")
        assert "2 take away Drying at 105 C, moisture, 1:00:00; 50:00 left" in hand.words()
        await hand.type("2")
        assert "left" not in hand.text().splitlines()[1]

    play(story, plant, clock=clock)


def test_timers_outlive_their_terminal(plant: Path, clock: Clock) -> None:
    """Opened again, the rest is right; another living terminal has none; answered, none comes back."""

    async def begin(hand: Hand) -> None:
        await hand.press("down", "insert")
        assert "Drying at 105 C, moisture: 1:00:00 left" in hand.text()

    async def later(hand: Hand) -> None:
        assert "Drying at 105 C, moisture: 35:00 left" in hand.text()
        async with opened(plant, clock=clock) as other:
            assert "Drying" not in other.text()
        clock.move(minutes=40)
        await tick(hand)
        assert "TIME IS UP: Drying at 105 C, moisture, 5 min ago" in hand.text()

    async def last(hand: Hand) -> None:
        assert "TIME IS UP: Drying at 105 C, moisture, 6 min ago" in hand.text()
        await hand.press("insert")
        assert "Drying" not in hand.text()

    async def none(hand: Hand) -> None:
        assert "Drying" not in hand.text()

    play(begin, plant, clock=clock)
    clock.move(minutes=25)
    play(later, plant, clock=clock)
    clock.move(minutes=1)
    play(last, plant, clock=clock)
    play(none, plant, clock=clock)


def test_a_stopped_time_is_still_offered_to_its_reading_after_a_crash(plant: Path, clock: Clock) -> None:
    """Started before one, stopped before another: the time between is what the reading gets, once."""

    async def begin(hand: Hand) -> None:
        await hand.press(*["down"] * 3, "insert")

    async def stop(hand: Hand) -> None:
        assert "Time for the air, permeability: 0:23, Ins stops" in hand.text()
        await hand.press(*["down"] * 3, "insert")

    async def read(hand: Hand) -> None:
        await hand.press(*["down"] * 3, "f6")
        assert "23.4" in hand.text()

    async def nothing(hand: Hand) -> None:
        await hand.press(*["down"] * 3, "f6")
        assert "23.4" not in hand.text()

    play(begin, plant, clock=clock)
    clock.move(seconds=23.4)
    for story in (stop, read, nothing):
        play(story, plant, clock=clock)


def test_what_nobody_waits_for_any_more_is_dropped(lab: Lab, clock: Clock) -> None:
    """Half a day after its end; what cannot be read goes too, and no file stays."""
    drying = KeptTimer(
        property="moisture", label="Moisture", what="Drying", seconds=3600, reading="", started=clock.now
    )
    keep_timers(lab, KeptTimers(running=(drying,)))
    lab.timers.close()
    (lab.folder / "drafts" / "old.timers").write_text("{}}\n")
    clock.move(hours=12, minutes=59)
    assert take_up_timers(lab).running == (drying,)
    lab.timers.close()
    clock.move(minutes=2)
    assert take_up_timers(lab) == KeptTimers()
    assert list((lab.folder / "drafts").iterdir()) == []
