"""Change of shift by keys: notes written, shown until read, steps of the reaction plan done."""

from __future__ import annotations

from pathlib import Path

from sandlab.lab.handing import handover, take_over, write_handover
from sandlab.lab.reacting import steps_due
from tests.lab.conftest import Clock
from tests.screens.conftest import lab_of
from tests.screens.hand import Hand, play


def test_a_note_is_written_with_one_key_and_read_by_the_next_shift(plant: Path, clock: Clock) -> None:
    """F5 is all the next shift has to press: its initials bring the notes."""

    async def late(hand: Hand) -> None:
        await hand.press("ctrl+g")
        assert "No handover note has been written yet." in hand.words()
        await hand.press("f7")
        await hand.type("belt wet since 9, call MO")
        await hand.press("enter")
        assert "1 handover note not read yet." in hand.words()
        assert "written 13:07 by AK" in hand.words()
        await hand.press("f6")
        assert "the only unread note is your own" in hand.words()
        await hand.press("escape", "escape")
        assert "Ctrl+G 1 note handed over, not read yet" in hand.words()

    async def early(hand: Hand) -> None:
        assert "1 note handed over, not read yet" in hand.words()
        await hand.press("f5")
        await hand.type("sk")
        await hand.press("enter")
        assert "belt wet since 9, call MO" in hand.words()
        await hand.press("f6")
        assert "Every handover note has been read." in hand.words()
        assert "read 13:07 by SK" in hand.words()
        await hand.press("escape")
        assert "not read yet" not in hand.text()
        await hand.type("4")
        assert "Enter saves 1 value" in hand.text()

    play(late, plant, clock=clock, warm=True)
    play(early, plant, clock=clock, warm=True, technician="")
    with lab_of(plant) as lab:
        (note,) = handover(lab).notes
    assert (note.by, note.read_by) == ("AK", "SK")


def test_the_first_screen_points_to_the_chart_that_calls(plant: Path, clock: Clock) -> None:
    """The plant's compactability drifts out of its limits; the words say since when and where to look."""

    async def story(hand: Hand) -> None:
        assert "F3 ◆ signal  Compactability has been" in hand.text()
        await hand.press("f3")
        assert "Compactability" in hand.text()

    play(story, plant, clock=clock, warm=True)


def test_a_step_of_the_reaction_plan_is_done_with_a_digit(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        for text in ("30", "2.9", "150", "104", "155", "33"):
            await hand.type(text)
            await hand.press("enter")
        await hand.press("enter", "enter")
        assert "3 steps to do, by 13:17: Compactability: Take a fresh sample and" in hand.words()
        await hand.press("ctrl+g")
        assert "Compactability 30 % is below the reaction limit 34 %" in hand.words()
        await hand.type("1")
        assert "Done. What was found?" in hand.words()
        await hand.type("31 again")
        await hand.press("enter")
        assert "2 of 3 steps of the reaction plan open." in hand.words()
        assert "1 Check the water line" in hand.words()

    play(story, plant, clock=clock, warm=True)
    with lab_of(plant) as lab:
        done = [one for one in steps_due(lab).steps if one.done_by]
    assert [(one.done_by, one.found) for one in done] == [("AK", "31 again")]


def test_initials_without_unread_notes_ask_nothing_more(plant: Path, clock: Clock) -> None:
    with lab_of(plant) as lab:
        write_handover(lab, text="all quiet", by="SK")
        take_over(lab, by="MO")

    async def story(hand: Hand) -> None:
        await hand.press("f5")
        await hand.type("rm")
        await hand.press("enter")
        assert "RM F5" in hand.text()
        assert "Handed over" not in hand.text()

    play(story, plant, clock=clock, warm=True)


def test_an_empty_plant_says_what_to_do_first(empty: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        assert "Nothing is recorded yet. First press F5 and type your initials." in hand.words()
        await hand.type("42")
        await hand.press(*["enter"] * 7)
        assert "Saved" in hand.text()
        await hand.press("enter")
        assert "Nothing is recorded yet" not in hand.text()

    play(story, empty, clock=clock)
