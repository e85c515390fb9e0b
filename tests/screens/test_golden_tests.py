"""The technician's boxes and lines as plain text at 80x24 and 120x40, held against files read by a person."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from sandlab.lab.handing import write_handover
from tests.lab.conftest import Clock
from tests.screens.conftest import NOW, lab_of
from tests.screens.hand import Hand, play
from tests.screens.test_golden import SIZES, compare

pytestmark = pytest.mark.parametrize("size", SIZES)
Size = tuple[int, int]


def test_half_typed_before(empty: Path, clock: Clock, size: Size) -> None:
    async def half(hand: Hand) -> None:
        for text in ("41", "3,28"):
            await hand.type(text)
            await hand.press("enter")

    async def story(hand: Hand) -> None:
        await compare("half_typed", size, hand)
        await hand.press("f6")
        await compare("taken_up", size, hand)

    play(half, empty, clock=clock, size=size)
    play(story, empty, clock=Clock(NOW + timedelta(minutes=40)), size=size, technician="SK")


def test_the_shift_and_a_timer(empty: Path, clock: Clock, size: Size) -> None:
    """A result past a limit, a note to read, a time that is up."""
    with lab_of(empty) as lab:
        write_handover(lab, text="belt wet since nine, call the engineer", by="SK")

    async def story(hand: Hand) -> None:
        await hand.type("30")
        await hand.press(*["enter"] * 7, "escape", "ctrl+g")
        await compare("shift", size, hand)
        await hand.press("escape", "insert")
        await compare("timers", size, hand)
        await hand.type("1")
        clock.move(minutes=62)
        assert hand.app.timers is not None
        hand.app.timers.tick()
        await hand.settle()
        assert "TIME IS UP: Drying at 105 C, moisture, 2 min ago  Ins answers" in hand.text()

    play(story, empty, clock=clock, size=size)


def test_yesterday(empty: Path, clock: Clock, size: Size) -> None:
    async def story(hand: Hand) -> None:
        await hand.type("41")
        await hand.press(*["enter"] * 8)
        clock.move(days=1)
        await hand.press("f8", "pagedown")
        await compare("yesterday", size, hand)

    play(story, empty, clock=clock, size=size)
