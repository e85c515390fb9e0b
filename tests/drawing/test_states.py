"""Each state is told by word and mark alone, in every glyph set."""

from __future__ import annotations

import pytest

from sandlab.drawing import GLYPH_SETS, ROLES, STATES, GlyphSet, family, state
from sandlab.drawing.glyphs import CONSOLE_GLYPHS, MARKS
from sandlab.drawing.states import Family

FAMILIES: dict[Family, set[str]] = {
    "judgement": {"impossible", "doubtful", "outside_tolerance", "in_tolerance", "not_measured"},
    "chart": {"in_control", "signal", "no_baseline", "too_few", "stale", "past_reaction_limit"},
    "muller": {"run", "check", "hold"},
    "due": {"due", "overdue", "done"},
}

# Characters with the very same picture in Linux console fonts. Source: bitmaps compared in Lat15-Fixed16,
# Lat15-Terminus16, Lat15-VGA16, Lat2-Terminus16 and Uni2-Fixed16 of Debian's console-setup-linux 1.221.
SAME_PICTURE = ("▲↑", "▼↓", "▶→", "◀←", "●•", "─═╌┄━", "│║┃", "┌╭", "┐╮", "└╰", "┘╯", "┼╪╫╋", "╳X")
# In none of those fonts, same source.
NOT_IN_CONSOLE = "○□△▽◇◆►◄✓✗▀▄▌▐▁▂▃▅▆▇⠿"


def picture_of(char: str) -> str:
    """One character standing for all that a console font draws alike."""
    return next((group[0] for group in SAME_PICTURE if char in group), char)


@pytest.mark.parametrize("name", FAMILIES)
def test_every_family_is_complete(name: Family) -> None:
    assert {entry.key for entry in family(name)} == FAMILIES[name]


@pytest.mark.parametrize("name", FAMILIES)
@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_word_and_mark_name_each_other(name: Family, glyphs: GlyphSet) -> None:
    entries = family(name)
    marks = [picture_of(entry.glyph(glyphs)) for entry in entries]
    assert len(set(marks)) == len({entry.word for entry in entries}) == len(entries)
    assert all(len(entry.glyph(glyphs)) == 1 for entry in entries)


def test_every_state_has_a_role_and_a_reason() -> None:
    assert all(entry.role in ROLES and len(entry.reason) > 10 for entry in STATES.values())


def test_ascii_marks_are_ascii_and_console_marks_exist_in_console_fonts() -> None:
    assert all(entry.ascii.isascii() for entry in STATES.values())
    assert all(entry.console.isascii() or entry.console in CONSOLE_GLYPHS for entry in STATES.values())
    assert not set(CONSOLE_GLYPHS) & set(NOT_IN_CONSOLE)
    assert len({picture_of(char) for char in CONSOLE_GLYPHS}) == len(CONSOLE_GLYPHS)


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_marks_on_a_chart_are_told_apart_by_shape(glyphs: GlyphSet) -> None:
    marks = MARKS[glyphs]
    on_points = [
        marks.point,
        marks.alarm_high,
        marks.alarm_low,
        marks.watch_high,
        marks.watch_low,
        marks.watch_level,
        marks.member,
        marks.beyond_high,
        marks.beyond_low,
        marks.event,
    ]
    pictures = on_points if glyphs == "full" else [picture_of(char) for char in on_points]
    assert len(set(pictures)) == len(on_points)


def test_an_unknown_state_names_the_nearest() -> None:
    with pytest.raises(KeyError, match="did you mean 'overdue'"):
        state("overdeu")
