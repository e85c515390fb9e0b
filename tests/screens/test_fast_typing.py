"""Keys typed faster than the screen draws, as a gloved hand on a keypad or a scanner sends them."""

from __future__ import annotations

from pathlib import Path

from textual import events

from tests.lab.conftest import Clock
from tests.screens.hand import NAMES, Hand, play
from tests.screens.test_hourly_round import newest


async def burst(hand: Hand, keys: str) -> None:
    """All keys at once, parted by blanks, then wait."""
    for key in keys.split():
        hand.app.post_message(events.Key(NAMES.get(key, key), key if len(key) == 1 else None))
    await hand.settle()


def test_a_whole_set_in_one_burst_lands_field_by_field(plant: Path, clock: Clock) -> None:
    """Two fields left blank, comma and point, and the Enter that saves, all before the first redraw."""

    async def story(hand: Hand) -> None:
        await burst(hand, "4 2 enter 3 , 3 enter enter 1 0 3 enter enter 3 3 enter enter")
        assert "Saved: sample of 13:07, by AK" in hand.text()

    play(story, plant, clock=clock)
    found = newest(plant)
    typed = {"compactability": 42.0, "moisture": 3.3, "permeability": 103.0, "sand_temperature": 33.0}
    assert found.items() >= typed.items()
    assert "green_compression_strength" not in found
    assert "specimen_weight" not in found


def test_arrows_in_a_burst_go_to_the_field_they_mean(plant: Path, clock: Clock) -> None:
    """Down and up between digits."""

    async def story(hand: Hand) -> None:
        await burst(hand, "4 2 down 3 . 3 up backspace 1")
        fields = {one.label.property: one.input.value for one in hand.app.screen.form.fields}  # type: ignore[attr-defined]
        assert (fields["compactability"], fields["moisture"]) == ("41", "3.3")

    play(story, plant, clock=clock)
