"""Timers of timed tests, by keys: started with one key, seen everywhere, rung in words and with the bell."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from tests.lab.conftest import Clock
from tests.screens.hand import Hand, play


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
