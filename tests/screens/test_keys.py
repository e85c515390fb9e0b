"""Keys: one table feeds line and list; keypad names, sizes, quitting, and faults that are said in words."""

from __future__ import annotations

import asyncio
import re
from pathlib import Path

import pytest
from textual import events
from textual.binding import Binding

from sandlab.screens.app import SandlabApp
from sandlab.screens.base import shown_bindings
from sandlab.screens.tests_screen import TestsScreen
from tests.lab.conftest import Clock
from tests.screens.hand import Hand, opened, play

NEVER = {"f1", "f10", "f11", "f12", *(f"ctrl+{letter}" for letter in "abszwtn")}


@pytest.mark.parametrize("path", [(), ("f8",), ("f3",), ("f3", "enter"), ("f3", "f3"), ("f4",)])
def test_every_key_of_a_screen_stands_in_its_list(plant: Path, clock: Clock, path: tuple[str, ...]) -> None:
    """The list also says what the screen decides; no key is one that terminals keep for themselves."""

    async def story(hand: Hand) -> None:
        await hand.press(*path)
        screen = hand.app.screen
        shown = shown_bindings(screen, everything=True)
        assert not {binding.key for binding in shown} & NEVER
        assert not any("alt" in binding.key for binding in shown)
        await hand.press("question_mark")
        assert "You decide" in hand.text()
        everywhere = {one.action for one in hand.app.BINDINGS if isinstance(one, Binding)}
        for binding in shown:
            what = binding.description if binding.action in everywhere else binding.tooltip
            assert (what or binding.description)[:30] in hand.words()

    play(story, plant, clock=clock)


def choice(hand: Hand, key: str) -> str:
    """The character that stands before a key in the list."""
    found = re.search(rf"(\w) {key} ", hand.words())
    assert found is not None
    return found.group(1)


def test_a_character_chooses_from_the_list(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("question_mark")
        await hand.type(choice(hand, "F8"))
        assert "taken" in hand.text()
        await hand.press("question_mark")
        await hand.type(choice(hand, "F4"))
        assert "released by" in hand.text()

    play(story, plant, clock=clock)


def test_keypad_keys_count_by_either_name(plant: Path, clock: Clock) -> None:
    """Some terminals call them decimal, separator, subtract, add, multiply, divide."""

    async def story(hand: Hand) -> None:
        await hand.press("down")
        await hand.type("3")
        await hand.press("decimal")
        await hand.type("3")
        assert getattr(hand.app.screen.focused, "value", "") == "3.3"
        await hand.press("ctrl+u", "subtract")
        assert getattr(hand.app.screen.focused, "value", "") == "-"
        await hand.press("ctrl+u", "multiply")
        assert "from readings" in hand.text()
        await hand.press("escape", "divide")
        assert "taken" in hand.text()
        await hand.press("escape", "add")
        assert "Additions for the next batches" in hand.text()

    play(story, plant, clock=clock)


def test_half_typed_sets_stay_while_looking_elsewhere(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.type("41")
        await hand.press("pagedown")
        assert "Hourly set, Muller" not in hand.text()
        await hand.press("f3", "f4", "f2", "pageup")
        assert "Enter saves 1 value" in hand.text()

    play(story, plant, clock=clock)


def test_the_last_set_has_every_property_and_scrolls(plant: Path, clock: Clock) -> None:
    """For a sample outside the schedule; the field in focus is in view, and so are the keys below."""

    async def story(hand: Hand) -> None:
        while "Any test, outside the schedule" not in hand.text():
            await hand.press("pageup")
        assert "Compactability" in hand.text()
        await hand.press(*["down"] * 20)
        await hand.type("90")
        screen = hand.app.screen
        assert isinstance(screen, TestsScreen)
        field = screen.form.field_of(screen.focused)
        assert field is not None
        assert field.label.label[:26] in hand.text()
        assert "F9 Quit" in hand.text()
        assert "Compactability" not in hand.text()

    play(story, plant, clock=clock)


def test_quitting_with_half_typed_values_is_asked_about(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.type("41")
        await hand.press("f9")
        assert "values are typed but not saved" in hand.words()
        await hand.press("escape")
        assert "Enter saves 1 value" in hand.text()
        await hand.press("f9", "f6")
        assert hand.app.return_value == 0

    play(story, plant, clock=clock)


def test_a_small_window_says_so(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        assert "This window has 60x20 characters; sandlab needs 80x24." in hand.words()
        await hand.pilot.resize_terminal(80, 24)
        await hand.settle()
        assert "Hourly set" in hand.text()

    play(story, plant, clock=clock, size=(60, 20))


def test_a_broken_spec_says_where_what_and_what_to_do(empty: Path, clock: Clock) -> None:
    """The tool stays open; once the file is mended, one key opens the plant."""
    path = empty / "specs" / "system.toml"
    good = path.read_text(encoding="utf-8")
    path.write_text(good + "\n[plant.untis]\npressure = 'psi'\n", encoding="utf-8")

    async def story(hand: Hand) -> None:
        assert "The plant could not be opened" in hand.text()
        assert "untis" in hand.words()
        assert "Did you mean 'units'?" in hand.words()
        await hand.press("escape")
        path.write_text(good, encoding="utf-8")
        await hand.press("f2")
        assert "target 42" in hand.words()

    play(story, empty, clock=clock)


def test_a_fault_of_the_program_is_said_in_words(
    plant: Path, clock: Clock, capsys: pytest.CaptureFixture[str]
) -> None:
    """No traceback on the terminal; the details are in a file."""

    async def story() -> None:
        async with opened(plant, clock=clock) as hand:
            hand.app.call_later(lambda: 1 / 0)
            await asyncio.sleep(0.1)

    with pytest.raises(ZeroDivisionError):
        asyncio.run(story())
    assert "ZeroDivisionError" in (plant / "fault.txt").read_text(encoding="utf-8")
    assert "Traceback" not in capsys.readouterr().out


def test_the_other_screens_can_be_opened_first(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        assert "released by JV" in hand.words()

    play(story, plant, clock=clock, start="muller")


def test_colours_change_with_one_key(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        assert hand.app.theme == "night"
        await hand.press("f3", "ctrl+l")
        assert hand.app.theme == "bright"

    play(story, plant, clock=clock)


def test_keys_before_the_lab_is_open_do_no_harm(empty: Path) -> None:
    """Function keys pressed at once are taken or said to be too early, never a fault."""

    async def story() -> None:
        app = SandlabApp(empty, warm=False, glyphs="full")
        async with app.run_test(size=(80, 24)) as pilot:
            for key in ("f6", "f7", "f8", "pagedown", "f3", "enter", "f4", "f6", "f7", "f2", "f9"):
                app.post_message(events.Key(key, None))
            hand = Hand(app, pilot)
            await hand.settle()

    asyncio.run(story())
