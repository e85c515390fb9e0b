"""The technician's hour: type the set, save it, read what follows; by keys alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual import events

from sandlab.errors import Problem, StoreError
from sandlab.lab.rounds import sheet
from tests.lab.conftest import Clock
from tests.screens.conftest import lab_of
from tests.screens.hand import Hand, play

VALUES = {
    "compactability": "41",
    "moisture": "3,28",
    "green_compression_strength": "158",
    "permeability": "108",
    "specimen_weight": "151.6",
    "sand_temperature": "33",
}


async def type_set(hand: Hand, values: dict[str, str]) -> None:
    """Type values in the form's order; Enter after each, Enter alone for a blank."""
    for name in VALUES:
        await hand.type(values.get(name, ""))
        await hand.press("enter")


def newest(folder: Path) -> dict[str, float | None]:
    """The values of the newest sample."""
    with lab_of(folder) as lab:
        return {one.property: one.value for one in sheet(lab, last=1).samples[0].results}


def test_an_hourly_set_of_six_values(plant: Path, clock: Clock) -> None:
    """Six values take their characters, one Enter each, and one more to save; comma and point both count."""

    async def story(hand: Hand) -> None:
        assert "Hourly set" in hand.text()
        await type_set(hand, VALUES)
        assert "Enter saves 6 values" in hand.text()
        await hand.press("enter")
        assert hand.keys == sum(map(len, VALUES.values())) + 6 + 1
        assert "Saved: sample of 13:07, by AK" in hand.text()
        assert "Return sand: 1 h 7 min late." in hand.words()
        await hand.press("enter")
        assert "nothing typed yet" in hand.text()

    play(story, plant, clock=clock)
    assert (
        newest(plant).items()
        >= {name: float(text.replace(",", ".")) for name, text in VALUES.items()}.items()
    )


def test_enter_after_saving_goes_on_to_what_is_due_and_esc_stays(plant: Path, clock: Clock) -> None:
    """The list is told in words, the most urgent first; F2 starts it with one key."""

    async def story(hand: Hand) -> None:
        assert "● overdue  Return sand: 1 h 7 min late  F2 starts it" in hand.text()
        await hand.press("f2")
        assert "Return sand, Return belt" in hand.text()
        await hand.press("f2")
        assert "This is the most urgent set." in hand.text()
        for text in ("2.1", "31"):
            await hand.type(text)
            await hand.press("enter")
        await hand.press("enter", "escape")
        assert "Return sand, Return belt" in hand.text()
        await hand.press("f2")
        assert "Shift set, Muller discharge" in hand.text()
        await hand.press("pagedown")
        await hand.type("1")
        await hand.press("f2")
        assert "Shift set, Muller discharge" in hand.text(), "what is half typed elsewhere stays there"

    async def on(hand: Hand) -> None:
        await hand.press("f8")
        await type_set(hand, VALUES)
        await hand.press("enter", "enter")
        assert "Shift set, Muller discharge" in hand.text()

    play(story, plant, clock=clock)
    play(on, plant, clock=clock)


def test_a_blank_field_is_not_measured(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await type_set(hand, {"compactability": "41"})
        await hand.press("enter")
        assert "Saved" in hand.text()

    play(story, plant, clock=clock)
    assert newest(plant)["compactability"] == 41.0
    assert "moisture" not in newest(plant)


def test_each_value_is_judged_while_it_is_typed(plant: Path, clock: Clock) -> None:
    """State in a mark and a word, what is expected, and the last value."""

    async def story(hand: Hand) -> None:
        await hand.type("42")
        assert "• in tolerance" in hand.text()
        assert "target 42, tolerance 38 to 46, reaction below 34 or above 50" in hand.words()
        await hand.press("backspace")
        await hand.type("8")
        assert "! outside tolerance" in hand.text()
        await hand.press("backspace")
        await hand.type("9999")
        assert "✗ impossible" in hand.text()
        assert "only 0 to 80 % can be measured" in hand.words()

    play(story, plant, clock=clock)


def test_a_doubtful_value_needs_one_deliberate_key(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await type_set(hand, {"moisture": "5.8"})
        await hand.press("enter")
        assert "Is this really what you read?" in hand.words()
        await hand.press("enter")
        assert "Is this really what you read?" in hand.words(), "Enter alone must not confirm"
        await hand.press("escape")
        assert "5.8" in hand.text()
        assert hand.app.focused is not None
        assert hand.app.focused.id == "moisture", "No leads back to the value in doubt"
        await hand.press(*["enter"] * 5, "enter", "f6")
        assert "Saved" in hand.text()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        (result, *_) = sheet(lab, last=1).samples[0].results
    assert result.value == pytest.approx(5.8)
    assert "confirmed by AK" in result.flags[0]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("4a2", "'4a2' is not a number; write digits and one decimal mark"),
        ("1e9", "'1e9' is not a number"),
        ("4.1,2", "'4.1,2' has two decimal marks; write one decimal point or comma"),
        ("-3", "only 0 to 80 % can be measured"),
        ("1234567", "'1234567' is too large"),
    ],
)
def test_what_is_no_number_stands_as_typed_and_is_named(
    plant: Path, clock: Clock, typed: str, words: str
) -> None:
    """Nothing is dropped: 4.1,2 must not become 4.12 unseen. It cannot be saved."""

    async def story(hand: Hand) -> None:
        await hand.type(typed)
        assert "✗ impossible" in hand.text()
        assert words in hand.words()
        await hand.press(*["enter"] * 7)
        assert "Not saved" in hand.text()

    play(story, plant, clock=clock)


def test_a_value_longer_than_any_number_is_refused_whole(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        hand.app.post_message(events.Paste("12345678901234"))
        await hand.settle()
        assert "at most 12 characters" in hand.text()
        hand.app.post_message(events.Paste(" 41,5 "))
        await hand.settle()
        assert "Enter saves 1 value" in hand.text()

    play(story, plant, clock=clock)


def test_impossible_values_are_refused_all_at_once_and_stay_in_the_form(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await type_set(hand, {"compactability": "99", "moisture": "-3"})
        await hand.press("enter")
        assert "Not saved; everything typed is still in the form" in hand.text()
        assert "Compactability: 99 is impossible" in hand.words()
        assert "Moisture: -3.00 is impossible" in hand.words()
        await hand.press("escape")
        assert "2 of 2 values impossible: correct first" in hand.text()
        assert hand.app.focused is not None
        assert hand.app.focused.id == "compactability", "the cursor is where it is wrong"
        await hand.press("backspace", "backspace")
        await hand.type("41")
        assert "1 of 2 values impossible: correct first" in hand.text()
        await hand.press("enter", "ctrl+u")
        assert "Enter saves 1 value" in hand.text()

    play(story, plant, clock=clock)


def test_a_refusal_behind_which_values_wait_does_not_offer_enter(plant: Path, clock: Clock) -> None:
    """Enter would only wait behind the value; with nothing waiting it closes the box as Esc does."""

    async def story(hand: Hand) -> None:
        await type_set(hand, {"compactability": "99"})
        await hand.press("enter")
        assert "Enter Back" in hand.words()
        await hand.type("41")
        await hand.press("enter")
        assert "Esc first; waits: 41 Enter" in hand.words()
        assert "Enter Back" not in hand.words()
        await hand.press("escape", "escape", "pageup", "pagedown", "up")
        assert "1 of 1 value impossible: correct first" in hand.text()

    play(story, plant, clock=clock)


def test_typed_values_survive_a_full_disk(plant: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_args: object, **_options: object) -> None:
        raise StoreError(Problem("sandlab.sqlite", "the disk is full", "free some space, then save again"))

    async def story(hand: Hand) -> None:
        await type_set(hand, VALUES)
        with monkeypatch.context() as patch:
            patch.setattr("sandlab.lab.entry.record_sample", full)
            await hand.press("enter")
        assert "sandlab.sqlite: the disk is full. Free some space, then save again." in hand.words()
        await hand.press("escape")
        assert "Enter saves 6 values" in hand.text()
        await hand.press("enter")
        assert "Saved" in hand.text()

    play(story, plant, clock=clock)
    assert newest(plant)["compactability"] == 41.0


def test_initials_are_asked_once_and_stay_visible(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        assert "who? F5" in hand.text()
        await type_set(hand, {"compactability": "41"})
        await hand.press("enter")
        assert "Who is at this terminal?" in hand.text()
        await hand.type("rm")
        await hand.press("enter", "enter")
        assert "RM F5" in hand.text()
        await hand.press("f5")
        await hand.type("TB")
        await hand.press("enter")
        assert "TB F5" in hand.text()

    play(story, plant, clock=clock, technician="")
    with lab_of(plant) as lab:
        assert sheet(lab, last=1).samples[0].by == "RM"
