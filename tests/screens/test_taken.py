"""When a sample was taken: typed on a keypad, of the evening before, too late, too early."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from sandlab.errors import InputError
from sandlab.lab.rounds import sheet
from sandlab.screens.form import taken_at
from tests.lab.conftest import Clock
from tests.screens.conftest import NOW, lab_of
from tests.screens.hand import Hand, play
from tests.screens.test_hourly_round import type_set


def test_the_time_and_a_note_can_be_given(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await type_set(hand, {"compactability": "41"})
        await hand.press("down")
        await hand.type("99:99")
        await hand.press("enter")
        await hand.type("wet belt")
        await hand.press("enter", "enter")
        assert "'99:99' is not a time" in hand.words()
        await hand.press("escape")
        assert hand.app.focused is not None
        assert hand.app.focused.id == "taken", "the cursor is where it is wrong"
        await hand.press("ctrl+u")
        await hand.type("12:40")
        await hand.press("up", "enter")
        assert "Saved: sample of 12:40" in hand.text()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        (sample,) = (one for one in sheet(lab, last=3).samples if one.note == "wet belt")
    assert sample.taken_at == NOW.replace(minute=40, hour=12)


def test_a_time_in_the_future_is_refused(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await type_set(hand, {"compactability": "41"})
        await hand.press("down")
        await hand.type("15:00")
        await hand.press("up", "enter")
        assert "Taken at: 15:00 is in the future. Correct the time or the clock; for another day write" in (
            hand.words()
        )

    play(story, plant, clock=clock)


def test_a_sample_of_long_ago_is_asked_about(plant: Path, clock: Clock) -> None:
    """A month or a day typed wrong would put a test among those of long ago."""

    async def story(hand: Hand) -> None:
        await type_set(hand, {"compactability": "41"})
        await hand.press("down")
        await hand.type("2026-02-04 12:40")
        await hand.press("up", "enter")
        assert "Taken at: Wed 04 Feb 12:40 is 28 d ago. Correct the day, or confirm." in hand.words()
        await hand.press("escape")
        assert hand.app.focused is not None
        assert hand.app.focused.id == "taken"
        await hand.press("up", "enter", "f6")
        assert "Saved: sample of Wed 04 Feb 12:40" in hand.text()

    play(story, plant, clock=clock)


@pytest.mark.parametrize(
    ("typed", "now", "taken"),
    [
        ("1405", "2026-03-04T14:07+01:00", "2026-03-04T14:05+01:00"),
        ("14.05", "2026-03-04T14:07+01:00", "2026-03-04T14:05+01:00"),
        ("14,05", "2026-03-04T14:07+01:00", "2026-03-04T14:05+01:00"),
        ("905", "2026-03-04T14:07+01:00", "2026-03-04T09:05+01:00"),
        ("23:55", "2026-03-05T00:10+01:00", "2026-03-04T23:55+01:00"),
        ("2355", "2026-03-04T19:57+01:00", "2026-03-04T23:55+01:00"),
        ("2026-03-04 1405", "2026-03-05T06:00+01:00", "2026-03-04T14:05+01:00"),
        ("02:30", "2026-10-25T02:40+01:00", "2026-10-25T02:30+01:00"),
        ("02:30", "2026-10-25T02:40+02:00", "2026-10-25T02:30+02:00"),
    ],
)
def test_a_time_as_the_night_shift_types_it(typed: str, now: str, taken: str) -> None:
    """Without a colon, of the evening before, and in the hour that comes twice; 19:57 is not yet 23:55."""
    at = taken_at(typed, datetime.fromisoformat(now), ZoneInfo("Europe/Copenhagen"))
    assert at == datetime.fromisoformat(taken)


@pytest.mark.parametrize("typed", ["9", "14.5", "14:5", "2410", "2026-03-04"])
def test_a_time_that_may_be_another_is_refused(typed: str) -> None:
    """Half a time is not filled up: 14.5 is 14:05, 14:30 or 14:50."""
    now = datetime.fromisoformat("2026-03-04T16:00+01:00")
    with pytest.raises(InputError, match="is not a time"):
        taken_at(typed, now, ZoneInfo("Europe/Copenhagen"))


def test_a_time_that_the_clock_skipped_is_refused() -> None:
    """The night the clocks go forward has no half past two."""
    now = datetime.fromisoformat("2026-03-29T04:00+02:00")
    with pytest.raises(InputError, match="was skipped"):
        taken_at("02:30", now, ZoneInfo("Europe/Copenhagen"))


def test_a_number_past_the_last_field_does_not_vanish_unseen(plant: Path, clock: Clock) -> None:
    """Enter once too often, then the value: it is said that no field took it."""

    async def story(hand: Hand) -> None:
        await type_set(hand, {"compactability": "41"})
        await hand.type("33")
        assert "No field takes a number here." in hand.words()
        await hand.press("down")
        await hand.type("1240")
        await hand.press("up")
        assert "Enter saves the sample as taken at 1240." in hand.words()
        await hand.press("enter")
        assert "Saved: sample of 12:40" in hand.text()

    play(story, plant, clock=clock)
