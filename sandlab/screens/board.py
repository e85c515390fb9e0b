"""The muller board: what is read from three metres, laid out for the cells there are."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from sandlab.drawing import block_height, block_number, state
from sandlab.lab.facts import AdditionFacts, MullerFacts
from sandlab.screens.base import Part
from sandlab.screens.look import GlyphSet

Line = list[Part | str]
ARROW_WIDTH = {5: 5, 7: 7, 14: 13}


def board(
    facts: MullerFacts, beside: Sequence[str], *, width: int, height: int, glyphs: GlyphSet
) -> list[Line]:
    """State in block letters with `beside` at its right, the kilograms, the sentence; at most `height` lines."""
    word = state_block(facts, beside, width=width, tall=height >= 34, glyphs=glyphs)
    texts = below(facts, width)
    room = height - len(word) - 1
    kilograms = additions(facts.additions, width=width, height=room - min(len(texts), 3), glyphs=glyphs)
    return [*word, [""], *kilograms, *texts[: max(0, room - len(kilograms))]]


def state_block(
    facts: MullerFacts, beside: Sequence[str], *, width: int, tall: bool, glyphs: GlyphSet
) -> list[Line]:
    """RUN, CHECK or HOLD with its shape at both ends, reversed when it is HOLD."""
    entry = state(facts.state)
    rows = block_number(facts.word, 7 if tall else 5, glyphs)
    mark = entry.glyph(glyphs)
    style = f"bold ${entry.role}"
    texts = [*beside, *[""] * len(rows)]
    lines: list[Line] = []
    for place, row in enumerate(rows):
        side = f" {mark * 3} "
        text = texts[place][: max(0, width - len(row) - 2 * len(side) - 1)]
        lines.append([(side, style), (row, style), (side, style), " ", (text, "bold")])
    return lines


def additions(items: Sequence[AdditionFacts], *, width: int, height: int, glyphs: GlyphSet) -> list[Line]:
    """The kilograms in the largest digits that fit, two beside each other, each under its name."""
    if not items:
        return [
            [" No additions are released."],
            [" A technician works them out (F2, then F7) and releases them."],
        ]
    columns = 1 if len(items) == 1 else 2
    per_row = -(-len(items) // columns)
    share = width // columns
    size = min(
        (block_height(one.text, width=share - 9, height=height // per_row - 1) for one in items), default=0
    )
    lines: list[Line] = []
    for first in range(0, len(items), columns):
        cells = [cell(one, size, share, glyphs) for one in items[first : first + columns]]
        lines += [[part for one in row for part in one] for row in zip(*cells, strict=True)]
    return lines


def cell(one: AdditionFacts, size: int, share: int, glyphs: GlyphSet) -> list[Line]:
    """Name, change in words, digits and arrow of one material; `size` 0 falls back to plain text."""
    change = f"{change_words(one, glyphs)}"
    style = "bold $watch" if one.change_kg else "$muted"
    name = f" {one.label}, kg"
    gap = max(1, share - len(name) - len(change) - 2)
    head: Line = [(name, "bold $title"), " " * gap, (change, style), "  "]
    if size == 0:
        return [head, [f" {one.text:<{share - 1}}"]]
    digits = block_number(one.text, size, glyphs)
    arrow = arrow_rows(one.change_kg, size, glyphs)
    lines: list[Line] = [head]
    for row, point in zip(digits, arrow, strict=True):
        pad = max(0, share - len(row) - len(point) - 3)
        lines.append([" ", (row, "$title"), "  ", (point, style), " " * pad])
    return lines


def change_words(one: AdditionFacts, glyphs: GlyphSet) -> str:
    """The change since the last release, with its arrow."""
    if not one.change_kg:
        return "as before"
    up, down = ("^", "v") if glyphs == "ascii" else ("▲", "▼")
    return f"{up if one.change_kg > 0 else down} {one.change_text} kg"


def arrow_rows(change: float, size: int, glyphs: GlyphSet) -> list[str]:
    """A block arrow as tall as the digits; blank when nothing changed."""
    width = {5: 5, 7: 6, 14: 12}[size]
    if not change:
        return [" " * width] * size
    ink = "#" if glyphs == "ascii" else "█"
    stem = max(1, size // 5) * 2 - (1 if width % 2 else 0)
    head = -(-size // 2)
    rows = []
    for row in range(size):
        ink_width = round((row + 1) / head * width) if row < head else stem
        ink_width += (width - ink_width) % 2
        rows.append((ink * min(ink_width, width)).center(width))
    return rows if change > 0 else rows[::-1]


def below(facts: MullerFacts, width: int) -> list[Line]:
    """The sentence, the next test, and whose responsibility it is."""
    lines: list[Line] = []
    if facts.overridden_by:
        words = f"Set otherwise by {facts.overridden_by}: {facts.override_reason}"
        lines += [[(f" {line}", "bold $watch")] for line in wrap(words, width - 2)]
    lines += [[f" {line}"] for line in wrap(facts.sentence, width - 2)[:2]]
    lines += [[(f" {line}", "$muted")] for line in wrap(facts.advice_note, width - 2)[:2]]
    return lines
