"""A value worked out from raw readings: method, repeats, caution, result."""

from __future__ import annotations

from pathlib import Path

import pytest

from sandlab.lab.rounds import sheet
from tests.lab.conftest import Clock
from tests.screens.conftest import lab_of
from tests.screens.hand import Hand, play


def test_moisture_from_two_weighings(plant: Path, clock: Clock) -> None:
    """50.00 g moist and 48.35 g dry are 3.30 % lost, by hand: 100 x 1.65 / 50."""

    async def story(hand: Hand) -> None:
        await hand.press("down", "f6")
        assert "Moisture from readings" in hand.text()
        assert "Caution: Hot oven and dish" in hand.words()
        await hand.type("50")
        assert "still to read: Dry sand" in hand.words()
        await hand.press("enter")
        await hand.type("48,35")
        assert "3.30 %" in hand.text()
        await hand.press("enter", "enter")
        assert "from readings" in hand.text()
        assert "Enter saves 1 value" in hand.text()
        await hand.press("down", "down", "down", "down", "enter")
        assert "Saved" in hand.text()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        result = next(one for one in sheet(lab, last=1).samples[0].results if one.property == "moisture")
    assert result.value == pytest.approx(3.30)
    assert result.method == "moisture_oven"


def test_another_method_and_back_without_a_result(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("down", "f6", "f6")
        assert "weighed in the dish (2 of 2)" in hand.words()
        await hand.press("escape")
        assert "nothing typed yet" in hand.text()

    play(story, plant, clock=clock)


def test_typing_over_a_computed_value_drops_its_readings(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("down", "f6")
        await hand.type("50")
        await hand.press("enter")
        await hand.type("48.35")
        await hand.press("f7", "up")
        await hand.press("ctrl+u")
        await hand.type("3.1")
        assert "from readings" not in hand.text()
        await hand.press(*["down"] * 5, "enter")

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        result = next(one for one in sheet(lab, last=1).samples[0].results if one.property == "moisture")
    assert (result.value, result.method) == (3.1, "")


def test_impossible_readings_are_named(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("down", "f6")
        await hand.type("50")
        await hand.press("enter")
        await hand.type("60")
        assert "Dry sand" in hand.words()
        await hand.press("f7")
        assert "Moisture from readings" in hand.text(), "nothing can be taken"

    play(story, plant, clock=clock)


def test_a_sieve_set_leaves_room_to_say_what_is_wrong(plant: Path, clock: Clock) -> None:
    """Fourteen weights fill the small window; the sentence is read to its end all the same."""

    async def story(hand: Hand) -> None:
        for _ in range(6):
            if "Grain fineness number" in hand.text():
                break
            await hand.press("pagedown")
        for _ in range(8):
            if "Grain fineness number:" in hand.text():
                break
            await hand.press("down")
        await hand.press("f6")
        for weight in ["5", *["0.5"] * 12]:
            await hand.type(weight)
            await hand.press("enter")
        assert "Washed, dried sand: 5 is impossible; only 10 to 200 g can be read" in hand.text()

    play(story, plant, clock=clock)


def test_three_repeats_leave_room_for_what_can_be_read(plant: Path, clock: Clock) -> None:
    """A range cut off at the edge, -30 to 30 for -30 to 300 C, would be another range."""

    async def story(hand: Hand) -> None:
        await hand.press("pagedown")
        while "Return-sand temperature" not in hand.text():
            await hand.press("pagedown")
        await hand.press("down", "f6")
        assert "-30 to 300 C" in hand.text()
        await hand.type("35")
        await hand.press("enter")
        await hand.type("36")
        await hand.press("enter")
        await hand.type("44,5")
        assert "36 C" in hand.text()

    play(story, plant, clock=clock)
