"""Contrast, roles, glyphs: what can be read by whom, on which terminal."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from rich.color import Color, ColorSystem

from sandlab.drawing.glyphs import CONSOLE_GLYPHS, ROLES
from sandlab.drawing.states import STATES
from sandlab.screens.look import (
    LINES_ONLY,
    PALETTES,
    WORD_STYLES,
    contrast,
    glyph_choice,
    theme,
    theme_choice,
)
from tests.lab.conftest import Clock
from tests.screens.hand import Hand, play

ENOUGH = 7.0
"""WCAG 2.2, success criterion 1.4.6 (level AAA): contrast of text."""
LINES = 3.0
"""WCAG 2.2, success criterion 1.4.11: contrast of lines and shapes."""


def test_contrast_of_known_pairs() -> None:
    """WCAG 2.2: black on white is 21:1; #767676 on white is the well-known grey of about 4.54:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("name", PALETTES)
def test_every_word_has_seven_to_one(name: str) -> None:
    """On the ground, on fields and reversed; lines that carry no words have three to one."""
    colours = PALETTES[name]
    for role, colour in colours.items():
        if role not in ("ground", "field"):
            least = LINES if role in LINES_ONLY else ENOUGH
            assert contrast(colour, colours["ground"]) >= least, role
    for role in ("ink", "bar", "muted"):
        assert contrast(colours[role], colours["field"]) >= ENOUGH, role


@pytest.mark.parametrize("name", PALETTES)
def test_every_role_has_its_colour(name: str) -> None:
    assert set(ROLES) - {"blank"} <= set(PALETTES[name])
    assert set(theme(name).variables) == set(PALETTES[name])


def test_states_of_a_family_differ_without_colour() -> None:
    """Word and mark are one-to-one in all three glyph sets, so sixteen colours or none lose nothing."""
    for group in {state.family for state in STATES.values()}:
        members = [state for state in STATES.values() if state.family == group]
        assert len({state.word for state in members}) == len(members)
        for glyphs in ("full", "console", "ascii"):
            assert len({state.glyph(glyphs) for state in members}) == len(members)


@pytest.mark.parametrize("name", PALETTES)
def test_sixteen_colours_keep_words_apart_from_the_ground(name: str) -> None:
    """Rounded to the sixteen colours no role's words vanish in the ground, and an alarm is reversed."""
    colours = PALETTES[name]

    def rounded(role: str) -> int | None:
        return Color.parse(colours[role]).downgrade(ColorSystem.STANDARD).number

    for role in set(colours) - {"ground", "field"} - LINES_ONLY:
        assert rounded(role) != rounded("ground"), role
    assert rounded("alarm") not in {rounded("ink"), rounded("muted"), rounded("good"), rounded("watch")}
    assert "on $alarm" in WORD_STYLES["alarm"]
    assert not any("bold" in style and " on " in style for style in WORD_STYLES.values())


@pytest.mark.parametrize(
    ("environment", "glyphs"),
    [
        ({"TERM": "xterm-256color", "LANG": "en_GB.UTF-8"}, "full"),
        ({"TERM": "linux", "LANG": "en_GB.UTF-8"}, "console"),
        ({"TERM": "xterm", "LANG": "C"}, "ascii"),
        ({"TERM": "xterm", "LC_ALL": "C.UTF-8", "LANG": "C"}, "full"),
        ({"TERM": "linux", "SANDLAB_GLYPHS": "full"}, "full"),
        ({"TERM": "xterm", "SANDLAB_GLYPHS": "ascii"}, "ascii"),
        ({"TERM": "xterm", "SANDLAB_GLYPHS": "runes"}, "full"),
    ],
)
def test_glyphs_follow_the_terminal(environment: dict[str, str], glyphs: str) -> None:
    assert glyph_choice(environment) == glyphs


def test_the_theme_can_be_asked_for() -> None:
    assert theme_choice({"SANDLAB_THEME": "bright"}) == "bright"
    assert theme_choice({"SANDLAB_THEME": "plaid"}) == "night"


@pytest.mark.parametrize("glyphs", ["console", "ascii"])
def test_plain_terminals_get_only_what_they_can_draw(plant: Path, clock: Clock, glyphs: str) -> None:
    """Every screen and box, character by character."""
    allowed = {chr(code) for code in range(32, 127)} | {"\n"}
    if glyphs == "console":
        allowed |= set(CONSOLE_GLYPHS)

    async def story(hand: Hand) -> None:
        async def look(*keys: str) -> None:
            await hand.press(*keys)
            strange = set(hand.text()) - allowed
            assert not strange, (keys, strange)

        await hand.type("30")
        await look("enter")
        await look("f8")
        await look("enter")
        await look("escape", "escape", "f7")
        await look("escape", "down", "down", "f6")
        await look("escape", "question_mark")
        await look("escape", "f3")
        await look("enter")
        await look("left")
        await look("f4")
        await look("f7")

    play(story, plant, clock=clock, glyphs=glyphs)


@pytest.mark.skipif(os.environ.get("TEXTUAL_FILTERS") is not None, reason="a filter is asked for already")
def test_without_colour_states_keep_word_and_mark(
    plant: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """NO_COLOR (no-color.org): the same words and marks stand there."""
    monkeypatch.setenv("NO_COLOR", "1")

    async def story(hand: Hand) -> None:
        await hand.type("42")
        assert "• in tolerance" in hand.text()
        await hand.press("f4")
        assert "██" in hand.text()

    play(story, plant, clock=clock)
