"""The muller board: what is read from three metres, laid out for the cells there are."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from sandlab.drawing import block_height, block_number, state
from sandlab.lab.facts import AdditionFacts, MullerFacts
from sandlab.screens.base import Part, short_name
from sandlab.screens.look import GlyphSet

Line = list[Part | str]

SHAPE_ROWS = {5: (2, 5, 8, 5, 2), 7: (2, 5, 8, 11, 8, 5, 2)}
"""The running triangle, row by row, for both heights of the word."""

ARROWS = (5, 9, 13, 17)
"""Widths of an arrow: a head that grows by one column on each side, the wider ones by two, and its stem."""


def board(facts: MullerFacts, beside: str, *, width: int, height: int, glyphs: GlyphSet) -> list[Line]:
    """State in block letters, `beside` in words, the kilograms, the sentence; at most `height` lines."""
    tall = height >= 32
    head: list[Line] = [
        *state_block(facts, width=width, rows=7 if tall else 5, glyphs=glyphs),
        [(f" {beside}", "bold")],
    ]
    why, caution = below(facts, width, full=tall), note(facts, width, full=tall)
    texts = [*otherwise(facts, width), *why]
    room = height - len(head)
    wanted = min(len(texts) + 1, 3)
    if not digit_rows(facts.additions, width, room - wanted):
        wanted = 2  # one line of words and the caution: digits go before the others
    kilograms = additions(facts.additions, width=width, height=room - wanted, glyphs=glyphs)
    spare = room - len(kilograms) - len(texts) - len(caution)
    if spare >= 2:
        return [*head, [""], *kilograms, [""], *texts, *caution]
    if spare < 0:
        caution = note(facts, width, full=False)
    left = max(0, room - len(kilograms) - len(caution))
    if left < len(texts):
        texts = [*why, *otherwise(facts, width)]
    return [*head, *kilograms, *texts[:left], *caution][:height]


def state_block(facts: MullerFacts, *, width: int, rows: int, glyphs: GlyphSet) -> list[Line]:
    """Shape and word in blocks; HOLD is reversed over the whole width and says whom to call."""
    entry = state(facts.state)
    ink = "#" if glyphs == "ascii" else "█"
    word, shape = block_number(facts.word, rows, glyphs), shape_rows(facts.state, rows, ink)
    taken = 8 + len(shape[0]) + len(word[0])
    call = wrap(f"CALL {facts.call}", max(10, width - taken - 2)) if facts.call else []
    call = ["", *call] if len(call) < rows - 1 else call
    style = f"$ground on ${entry.role}" if facts.state == "hold" else f"bold ${entry.role}"
    lines: list[Line] = []
    for place in range(rows):
        beside = call[place] if place < len(call) else ""
        text = f" {shape[place]}     {word[place]}  {beside}"
        lines.append([(f"{text:<{width}}"[:width], style)])
    return lines


def shape_rows(key: str, rows: int, ink: str) -> list[str]:
    """The triangle of a running machine, the bars of a pause, the square of a stop, as tall as the word."""
    across = max(SHAPE_ROWS[rows])
    if key == "run":
        return [(ink * count).ljust(across) for count in SHAPE_ROWS[rows]]
    if key == "check":
        bar = ink * (across // 3)
        return [bar + " " * (across - 2 * len(bar)) + bar] * rows
    return [ink * across] * rows


def additions(items: Sequence[AdditionFacts], *, width: int, height: int, glyphs: GlyphSet) -> list[Line]:
    """The kilograms in the largest digits that fit, two beside each other, each under its name."""
    if not items:
        return [
            [" No additions are released."],
            [" A technician works them out (F2, then F7) and releases them."],
        ]
    columns, down = _grid(items)
    share = width // columns
    size = digit_rows(items, width, height)
    across = max(len(block_number(one.text, size)[0]) for one in items) if size else 0
    arrow = arrow_width(size, share - across - 3)
    lines: list[Line] = []
    for first in range(0, len(items), columns):
        cells = [cell(one, size, share, arrow, glyphs) for one in items[first : first + columns]]
        lines += [[part for one in row for part in one] for row in zip(*cells, strict=True)]
        if height - len(lines) > (down - first // columns - 1) * (size + 2):
            lines.append([""])
    return lines


def digit_rows(items: Sequence[AdditionFacts], width: int, height: int) -> int:
    """Rows of the largest digits in which all kilograms fit; 0 when none do."""
    if not items:
        return 0
    columns, down = _grid(items)
    return min(block_height(one.text, width=width // columns - 8, height=height // down - 1) for one in items)


def _grid(items: Sequence[AdditionFacts]) -> tuple[int, int]:
    """Columns and rows of materials."""
    columns = 1 if len(items) == 1 else 2
    return columns, -(-len(items) // columns)


def cell(one: AdditionFacts, size: int, share: int, arrow: int, glyphs: GlyphSet) -> list[Line]:
    """Name, change in words, digits and arrow of one material; `size` 0 falls back to plain text."""
    change = change_words(one, glyphs)
    style = "bold $watch" if one.change_kg else "$muted"
    name = f" {short_name(one.label)}, kg"
    gap = max(1, share - len(name) - len(change) - 2)
    head: Line = [(name, "bold $title"), " " * gap, (change, style), "  "]
    if size == 0:
        return [head, [(f" {one.text:<{share - 1}}", "bold $title")]]
    lines: list[Line] = [head]
    points = arrow_rows(one.change_kg, size, arrow, glyphs)
    for row, point in zip(block_number(one.text, size, glyphs), points, strict=True):
        pad = max(1, share - len(row) - len(point) - 3)
        lines.append(
            [" ", (row, "$title"), " " * pad, (point, style), " " * (share - 1 - len(row) - pad - arrow)]
        )
    return lines


def change_words(one: AdditionFacts, glyphs: GlyphSet) -> str:
    """The change against what was set before, with its arrow."""
    if not one.change_kg:
        return "as before"
    up, down = ("^", "v") if glyphs == "ascii" else ("▲", "▼")
    return f"{up if one.change_kg > 0 else down} {one.change_text} kg"


def arrow_width(size: int, room: int) -> int:
    """The widest arrow that suits digits of `size` rows and stands beside them in `room` columns."""
    return max((wide for wide in ARROWS if wide <= min(room, 2 * size - 5)), default=0)


def arrow_rows(change: float, size: int, width: int, glyphs: GlyphSet) -> list[str]:
    """A block arrow as tall as the digits; blank when nothing changed."""
    if not change or not width:
        return [" " * width] * size
    ink = "#" if glyphs == "ascii" else "█"
    step = 2 if width == min(ARROWS) else 4
    counts = [*range(1, width + 1, step)]
    counts += [width // 4 | 1] * (size - len(counts))
    rows = [(ink * count).center(width) for count in counts]
    return rows if change > 0 else rows[::-1]


def otherwise(facts: MullerFacts, width: int) -> list[Line]:
    """Who set other kilograms, and why."""
    if not facts.overridden_by:
        return []
    words = f"Set otherwise by {facts.overridden_by}: {facts.override_reason}"
    return [[(f" {line}", "bold $watch")] for line in _wrapped(words, width, 1)]


def below(facts: MullerFacts, width: int, *, full: bool) -> list[Line]:
    """Why it is not RUN, the sentence; in full where it fits."""
    lines: list[Line] = []
    others = [words for words in facts.reasons if words not in facts.sentence]
    texts = [facts.sentence, *others]
    if facts.state == "check" and others:
        texts = [others[0], facts.sentence, *others[1:]]
    if not full:
        texts = texts[:1]
    for words in texts:
        lines += [[f" {line}"] for line in _wrapped(words, width, 4 if full else 2)]
    return lines


def note(facts: MullerFacts, width: int, *, full: bool) -> list[Line]:
    """Whose decision it is, and the caution; the first part of it where there is little room."""
    words = facts.advice_note if full else facts.advice_note.split(":")[0]
    return [[(f" {line}", "$muted")] for line in _wrapped(words, width, 4)]


def _wrapped(words: str, width: int, most: int) -> list[str]:
    """The words in lines; what does not fit is marked as cut."""
    lines = wrap(words, width - 2)
    if len(lines) <= most:
        return lines
    return [*lines[: most - 1], lines[most - 1][: width - 5].rstrip() + "..."]
