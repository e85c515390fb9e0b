"""Keystrokes of the technician's work, counted and printed; the bar is characters plus one move per cell."""

from __future__ import annotations

from pathlib import Path

import pytest

from sandlab.lab.rounds import sheet
from tests.lab.conftest import Clock
from tests.screens.conftest import lab_of
from tests.screens.hand import Hand, play
from tests.screens.test_hourly_round import VALUES, type_set

SET = sum(map(len, VALUES.values()))
"""Characters of the six values."""


def tell(what: str, keys: int, bar: int) -> None:
    """The count beside its bar, for whoever runs the tests with -s."""
    print(f"{what}: {keys} keys; characters and one move per cell: {bar}; ratio {keys / bar:.2f}")


def test_the_hourly_set_costs_one_key_more_than_a_grid_of_cells(
    plant: Path, clock: Clock, capsys: pytest.CaptureFixture[str]
) -> None:
    """A grid takes the characters and a move per cell, and has neither saved nor judged anything by then.

    Here one key more saves the sample, and one goes on from what follows to the next set.
    """
    counts: dict[str, int] = {}

    async def story(hand: Hand) -> None:
        await type_set(hand, VALUES)
        counts["typed"] = hand.keys
        await hand.press("enter")
        counts["saved"] = hand.keys
        assert "Saved" in hand.text()
        await hand.press("enter")
        counts["ready"] = hand.keys
        assert "nothing typed yet" in hand.text()

    play(story, plant, clock=clock)
    bar = SET + len(VALUES)
    with capsys.disabled():
        print()
        tell("hourly set of six values, typed", counts["typed"], bar)
        tell("hourly set of six values, saved", counts["saved"], bar)
    assert counts == {"typed": bar, "saved": bar + 1, "ready": bar + 2}
    with lab_of(plant) as lab:
        (sample,) = sheet(lab, last=1).samples
    assert len([one for one in sample.results if one.property in VALUES]) == len(VALUES)


def test_a_doubtful_value_costs_one_key_more(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await type_set(hand, {**VALUES, "moisture": "5.8"})
        await hand.press("enter", "f6")
        assert "Saved" in hand.text()
        assert hand.keys == SET - len(VALUES["moisture"]) + len("5.8") + len(VALUES) + 2

    play(story, plant, clock=clock)


def test_a_blank_cell_costs_its_move_alone(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await type_set(hand, {"compactability": "41"})
        await hand.press("enter")
        assert "Saved" in hand.text()
        assert hand.keys == 2 + len(VALUES) + 1

    play(story, plant, clock=clock)


def test_a_timer_costs_one_key_and_a_correction_its_words(plant: Path, clock: Clock) -> None:
    """A correction: open the sheet, Enter on the value, its characters, Enter, the reason, Enter."""
    reason = "misread"

    async def story(hand: Hand) -> None:
        await hand.press("down", "insert")
        assert hand.keys == 2
        assert "Drying at 105 C" in hand.text()
        before = hand.keys
        await hand.press("f8", "enter")
        await hand.type("35")
        await hand.press("enter")
        await hand.type(reason)
        await hand.press("enter")
        assert "Corrected by AK" in hand.text()
        assert hand.keys - before == 2 + 2 + 1 + len(reason) + 1

    play(story, plant, clock=clock)
