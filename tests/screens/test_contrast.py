"""Every text has 7:1 on every ground it is put on, and no state needs its colour."""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path

import pytest
from rich.color import Color, ColorSystem

import sandlab.screens
from sandlab.drawing import GLYPH_SETS, STATES, GlyphSet, Tile, tile_cells
from sandlab.drawing.glyphs import MARKS, ROLES
from sandlab.screens.look import LINES_ONLY, PALETTES, WORD_STYLES, contrast
from tests.drawing.samples import tile

FOLDER = Path(sandlab.screens.__file__).parent
RULE = re.compile(r"([^{}]+)\{([^}]*)\}")
COLOUR = re.compile(r"(?:^|;)\s*(color|background):\s*\$(\w+)\s*(?=;|$)")
ENOUGH = 7.0
"""WCAG 2.2, success criterion 1.4.6 (level AAA)."""


def declared() -> set[tuple[str, str]]:
    """Text and ground of every rule; what a rule leaves open it has from the screen."""
    pairs = set()
    for path in FOLDER.rglob("*.tcss"):
        for _, body in RULE.findall(path.read_text(encoding="utf-8")):
            found = dict(COLOUR.findall(body.strip()))
            if found:
                pairs.add((found.get("color", "ink"), found.get("background", "ground")))
    return pairs


def written() -> set[tuple[str, str]]:
    """What screens write in a colour of their own: on the ground, on fields, or on a ground they name."""
    pairs = set()
    for path in FOLDER.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        pairs |= {(one, other) for one, other in re.findall(r"\$(\w+) on \$(\w+)", text)}
        for role in re.findall(r'"(?:bold )?\$(\w+)"', text):
            if role in PALETTES["night"]:
                pairs |= {(role, "ground"), (role, "field")} if role != "good" else {(role, "ground")}
    return pairs


def drawn() -> set[tuple[str, str]]:
    """Every role of a drawn cell on the ground, and the cursor reversed."""
    return {(role, "ground") for role in ROLES if role != "blank"} | {("ground", "cursor")}


@pytest.mark.parametrize("name", PALETTES)
def test_every_text_has_seven_to_one_on_its_ground(name: str) -> None:
    colours, pairs = PALETTES[name], declared() | written() | drawn()
    assert len(pairs) > 25
    short = {
        pair: round(contrast(colours[pair[0]], colours[pair[1]]), 2)
        for pair in pairs
        if pair[0] != pair[1] and not LINES_ONLY & set(pair)
    }
    assert not {pair: ratio for pair, ratio in short.items() if ratio < ENOUGH}


def test_no_colour_is_written_outside_the_two_themes() -> None:
    """Style sheets name roles only, so that a theme changes everything."""
    for path in FOLDER.rglob("*.tcss"):
        assert not re.search(r"#[0-9a-fA-F]{3,8}\b(?![^{]*\{)", "".join(
            body for _, body in RULE.findall(path.read_text(encoding="utf-8")))), path.name  # fmt: skip


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_word_and_mark_of_a_state_are_one_to_one(glyphs: GlyphSet) -> None:
    """Within a family no word and no mark stands twice."""
    for group in {state.family for state in STATES.values()}:
        members = [state for state in STATES.values() if state.family == group]
        pairs = {(state.word, state.glyph(glyphs)) for state in members}
        assert len(pairs) == len({word for word, _ in pairs}) == len({mark for _, mark in pairs})
        assert len(pairs) == len(members)


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_signals_patterns_and_left_out_tests_have_marks_of_their_own(glyphs: GlyphSet) -> None:
    marks = MARKS[glyphs]
    shown = [
        marks.alarm_high, marks.alarm_low, marks.watch_high, marks.watch_low, marks.watch_level,
        marks.member, marks.excluded, marks.event,
    ]  # fmt: skip
    assert len(set(shown)) == len(shown)
    assert marks.point not in shown


@pytest.mark.parametrize("name", PALETTES)
def test_sixteen_colours_take_no_state_away(name: str) -> None:
    """Where two states of one family fall on one of sixteen colours, word and mark still tell them apart."""
    colours = PALETTES[name]

    def rounded(role: str) -> int | None:
        return Color.parse(colours[role]).downgrade(ColorSystem.STANDARD).number

    for one, other in combinations(STATES.values(), 2):
        if one.family == other.family and rounded(one.role) == rounded(other.role):
            assert one.word != other.word
            for glyphs in GLYPH_SETS:
                assert one.glyph(glyphs) != other.glyph(glyphs)
    for role in {state.role for state in STATES.values()}:
        written_on = "alarm" if "on $alarm" in WORD_STYLES.get(role, "") else role
        assert rounded(written_on) != rounded("ground")


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
@pytest.mark.parametrize("state", ["in_control", "signal", "past_reaction_limit", "no_baseline", "stale"])
def test_a_small_chart_without_colour_still_says_its_state(glyphs: GlyphSet, state: str) -> None:
    """The last row carries the state's mark and its words."""
    plain = tile()
    shown = Tile(plain.title, plain.reading, state, "", plain.age, plain.values)
    last = tile_cells(shown, width=40, height=5, glyphs=glyphs).lines()[-1]
    assert f"{STATES[state].glyph(glyphs)} {STATES[state].word}" in last
