"""A window too small to show what keys do: they wait, and act only after a yes."""

from __future__ import annotations

from pathlib import Path

from textual import events

from tests.lab.conftest import Clock
from tests.screens.hand import Hand, play


async def unseen(hand: Hand, *keys: str) -> None:
    """Press keys in a window of 60x20, then make it large again."""
    await hand.pilot.resize_terminal(60, 20)
    await hand.settle()
    assert "Nothing typed is lost: keys wait" in hand.words()
    for key in keys:
        hand.app.post_message(events.Key(key, key if len(key) == 1 else None))
    await hand.pilot.pause(0.05)
    await hand.pilot.resize_terminal(80, 24)
    await hand.settle()


def test_keys_wait_and_act_after_a_yes(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.type("4")
        await unseen(hand, "1", "enter", "3")
        assert "Typed while the window was too small" in hand.text()
        assert "1 Enter 3" in hand.words()
        await hand.press("f6")
        assert "Enter saves 2 values" in hand.text()
        assert [field.text for field in hand.app.screen.form.fields[:2]] == ["41", "3"]  # type: ignore[attr-defined]

    play(story, plant, clock=clock)


def test_they_can_be_forgotten(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.type("41")
        await unseen(hand, *["enter"] * 8)
        await hand.press("escape")
        assert "Enter saves 1 value" in hand.text()
        assert hand.app.focused is not None
        assert hand.app.focused.id == "compactability"

    play(story, plant, clock=clock)


def test_nothing_is_asked_when_nothing_was_typed(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await unseen(hand)
        assert "Typed while" not in hand.text()
        await hand.type("41")
        assert "Enter saves 1 value" in hand.text()

    play(story, plant, clock=clock)


def test_quitting_works_in_a_small_window(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f9")
        assert hand.app.return_value == 0

    play(story, plant, clock=clock, size=(60, 20))


def test_lines_that_call_do_not_shine_through(plant: Path, clock: Clock) -> None:
    """The lines above the form come and go with what is recorded; in a small window they stay away."""

    async def story(hand: Hand) -> None:
        await hand.until(" signal ", within_s=20)
        await hand.pilot.resize_terminal(79, 23)
        await hand.settle()
        assert hand.text().strip().startswith("This window has 79x23 characters; sandlab needs 80x24.")
        assert "signal" not in hand.text()

    play(story, plant, clock=clock, warm=True)
