"""Keys typed faster than the screen draws, as a gloved hand on a keypad or a scanner sends them."""

from __future__ import annotations

import asyncio
from pathlib import Path

from textual import events

from sandlab.screens.app import SandlabApp
from tests.lab.conftest import Clock
from tests.screens.conftest import lab_of
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


QUIET = ("42 | 3.3 | 160 | 110 | 152 | 33 ||", "41 | 3.25 | 158 | 109 | 151 | 32 ||")
"""Two sets in which nothing calls for action; a stroke is Enter."""
CALLING = "30 | 3.3 | 160 | 110 | 152 | 33 ||"
"""Compactability past its reaction limit."""
DOUBTFUL = "42 | 3.3 | 160 | 110 | 134 | 33 ||"


def keys_of(*texts: str) -> str:
    """The keys of whole sets, one after the other."""
    return " ".join("enter" if one == "|" else one for one in "".join(texts) if one != " ")


def compactabilities(plant: Path) -> list[float]:
    """Of the last two samples, oldest first."""
    with lab_of(plant) as lab:
        frame = lab.store.results("main", "compactability", last=2)
    return frame["value"].to_list()


def shown(hand: Hand) -> list[str]:
    """What stands in the fields."""
    return [one.text for one in hand.app.screen.form.fields]  # type: ignore[attr-defined]


def test_two_whole_sets_in_one_burst_are_both_saved(plant: Path, clock: Clock) -> None:
    """The second waits for the first to be saved, closes its quiet box, and lands field by field."""

    async def story(hand: Hand) -> None:
        await burst(hand, keys_of(*QUIET))
        assert "Saved: sample of 13:07, by AK" in hand.text()
        await hand.press("escape")
        assert "nothing typed yet" in hand.text()

    play(story, plant, clock=clock)
    assert compactabilities(plant) == [42.0, 41.0]
    found = newest(plant)
    assert (found["moisture"], found["sand_temperature"]) == (3.25, 32.0)


def test_two_sets_typed_before_the_records_are_open_are_both_saved(plant: Path, clock: Clock) -> None:
    async def run() -> None:
        app = SandlabApp(plant, clock=clock, technician="AK", warm=False, glyphs="full")
        async with app.run_test(size=(80, 24)) as pilot:
            await burst(Hand(app, pilot), keys_of(*QUIET))

    asyncio.run(run())
    assert compactabilities(plant) == [42.0, 41.0]


def test_a_pasted_column_is_typed_value_by_value(plant: Path, clock: Clock) -> None:
    """Lines or tabs between values; what is no number is not taken for commands."""

    async def story(hand: Hand) -> None:
        hand.app.post_message(events.Paste("42\r\n3.3\t160\n110\n152\n33\n\n41\n3.25\n"))
        await hand.settle()
        assert shown(hand)[:3] == ["41", "3.25", ""]
        hand.app.post_message(events.Paste("/\n*\n"))
        await hand.settle()
        assert "1 of 3 values impossible: correct first" in hand.text()

    play(story, plant, clock=clock)
    assert compactabilities(plant)[1] == 42.0


def test_a_second_set_does_not_close_a_box_that_calls_for_action(plant: Path, clock: Clock) -> None:
    """It waits in sight, and after a yes it lands in the blank form."""

    async def story(hand: Hand) -> None:
        await burst(hand, keys_of(CALLING, QUIET[1]))
        assert "React first" in hand.words()
        assert "Esc first; waits: ...ter 158 Enter 109 Enter 151 Enter 32 Enter Enter" in hand.words()
        await hand.press("escape")
        assert "Typed before a box was seen" in hand.text()
        assert "41 Enter 3.25 Enter 158 Enter 109 Enter 151 Enter 32 Enter Enter" in hand.words()
        await hand.press("f6")
        assert "Saved: sample of 13:07, by AK" in hand.text()

    play(story, plant, clock=clock)
    assert compactabilities(plant) == [30.0, 41.0]
    assert newest(plant)["moisture"] == 3.25


def test_digits_typed_at_a_box_that_calls_wait_with_the_enter_after_them(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await burst(hand, keys_of(CALLING))
        await hand.type("41")
        await hand.press("enter")
        assert "React first" in hand.words()
        assert "waits: 41 Enter" in hand.words()
        await hand.press("escape", "escape")
        assert "nothing typed yet" in hand.text()
        assert shown(hand)[0] == ""

    play(story, plant, clock=clock)


def test_a_second_set_never_lands_in_a_set_that_was_refused(plant: Path, clock: Clock) -> None:
    """A doubtful value is asked about; the keys of the next set neither answer nor change it."""

    async def story(hand: Hand) -> None:
        await burst(hand, keys_of(DOUBTFUL, QUIET[1]))
        assert "Doubtful" in hand.text()
        await hand.press("f6")
        assert "Saved: sample of 13:07" in hand.text()
        await hand.press("escape")
        assert "Typed before a box was seen" in hand.text()
        await hand.press("f6")
        assert "Saved: sample of 13:07" in hand.text()

    play(story, plant, clock=clock)
    assert compactabilities(plant) == [42.0, 41.0]


def test_a_second_enter_does_not_close_the_box_unseen(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await burst(hand, keys_of(QUIET[0], "||"))
        assert "Saved: sample of 13:07" in hand.text()

    play(story, plant, clock=clock)


def test_initials_are_not_asked_of_the_next_set(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await burst(hand, keys_of(*QUIET))
        assert "Who is at this terminal?" in hand.text()
        await hand.type("sk")
        await hand.press("enter")
        assert "Saved: sample of 13:07, by SK" in hand.text()
        await hand.press("escape")
        assert "41 Enter 3.25" in hand.words()
        await hand.press("f6")

    play(story, plant, clock=clock, technician="")
    assert compactabilities(plant) == [42.0, 41.0]
