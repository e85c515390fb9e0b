"""What a gloved hand does by mistake: NumLock off, a number for a name, keys where nothing waits for them."""

from __future__ import annotations

from pathlib import Path

import pytest

from sandlab.lab.drafts import left
from tests.lab.conftest import Clock
from tests.screens.conftest import lab_of
from tests.screens.hand import Hand, play


@pytest.mark.parametrize("key", ["left", "right", "home", "end", "delete"])
def test_a_keypad_without_numlock_is_told(plant: Path, clock: Clock, key: str) -> None:
    """4, 6, 7, 1 and the decimal mark of the keypad arrive as these; in a blank field they have no use."""

    async def story(hand: Hand) -> None:
        await hand.press(key)
        assert "press NumLock" in hand.words()
        await hand.type("42")
        await hand.press("left")
        await hand.type("1")
        assert hand.app.screen.form.fields[0].text == "412"  # type: ignore[attr-defined]

    play(story, plant, clock=clock)


def test_a_number_is_not_taken_for_initials(plant: Path, clock: Clock) -> None:
    """The next value, typed before the question was seen, would sign everything that follows."""

    async def story(hand: Hand) -> None:
        await hand.press("f5", "enter")
        assert "Type an answer, or press Esc." in hand.words()
        await hand.type("41")
        await hand.press("enter")
        assert "'41' has no letter." in hand.words()
        await hand.type("jv2")
        await hand.press("enter")
        assert hand.app.technician == "JV2"

    play(story, plant, clock=clock, technician="")


def test_what_is_typed_in_a_field_is_kept_before_it_is_left(plant: Path, clock: Clock) -> None:
    """The hand rests, the power goes: the field that was never left is in the draft."""
    found: list[str] = []

    async def story(hand: Hand) -> None:
        await hand.type("42")
        for _ in range(100):
            await hand.pilot.pause(0.05)
            kept = "".join(one.read_text() for one in (plant / "drafts").rglob("*") if one.is_file())
            if '"42"' in kept:
                found.append(kept)
                break

    play(story, plant, clock=clock)
    assert found
    with lab_of(plant) as lab:
        (draft,) = left(lab)
        assert draft.sets[0].entries[0].text == "42"


def test_quitting_says_so_when_nothing_can_be_kept(empty: Path, clock: Clock) -> None:
    (empty / "specs" / "system.toml").write_text('[plant]\ntime_zone = "Europe/Nowhere"\n', encoding="utf-8")

    async def story(hand: Hand) -> None:
        assert "The plant could not be opened" in hand.text()
        await hand.press("escape")
        await hand.type("42")
        await hand.press("f9")
        assert "They are lost then." in hand.words()
        assert "kept and offered" not in hand.words()

    play(story, empty, clock=clock)


def test_keys_that_would_do_nothing_are_not_offered(plant: Path, clock: Clock) -> None:
    """One method, nothing timed, no note to read."""

    async def story(hand: Hand) -> None:
        await hand.press("f6")
        assert "Compactability from readings" in hand.text()
        assert "Other method" not in hand.words()
        assert "F8 Timer" not in hand.words()
        await hand.press("escape", "ctrl+g")
        assert "No handover note has been written yet." in hand.words()
        assert "I have read the notes" not in hand.words()
        await hand.press("f6")
        assert "Not done" not in hand.text()

    play(story, plant, clock=clock)


def test_nothing_to_time_is_left_with_enter(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("insert")
        if "Nothing here is timed" in hand.words():
            await hand.press("enter")
        assert "Timers" not in hand.text() or "start" in hand.text()

    play(story, plant, clock=clock)
