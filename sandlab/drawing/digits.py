"""Block numbers and words for the muller screen, read across the shop.

A character should fill at least 20 minutes of arc to be read with ease: 18 mm at three metres. Five rows on
an 80x24 screen of common size are about 60 mm, so even the smallest blocks have three times that.
"""

from __future__ import annotations

from sandlab.drawing.glyphs import GlyphSet

_SHAPES = {
    "0": "##### #...# #...# #...# #...# #...# #####",
    "1": ".##.. ..#.. ..#.. ..#.. ..#.. ..#.. .###.",
    "2": "##### ....# ....# ##### #.... #.... #####",
    "3": "##### ....# ....# .#### ....# ....# #####",
    "4": "#...# #...# #...# ##### ....# ....# ....#",
    "5": "##### #.... #.... ##### ....# ....# #####",
    "6": "##### #.... #.... ##### #...# #...# #####",
    "7": "##### ....# ....# ....# ....# ....# ....#",
    "8": "##### #...# #...# ##### #...# #...# #####",
    "9": "##### #...# #...# ##### ....# ....# #####",
    ".": ". . . . . . #",
    ",": ". . . . . # #",
    "-": "..... ..... ..... ##### ..... ..... .....",
    "+": "..... ..#.. ..#.. ##### ..#.. ..#.. .....",
    " ": ". . . . . . .",
    "C": "##### #.... #.... #.... #.... #.... #####",
    "D": "####. #..## #...# #...# #...# #..## ####.",
    "E": "##### #.... #.... ####. #.... #.... #####",
    "H": "#...# #...# #...# ##### #...# #...# #...#",
    "K": "#...# #..## #.##. ####. #.##. #..## #...#",
    "L": "#.... #.... #.... #.... #.... #.... #####",
    "N": "#...# ##..# ###.# #.#.# #.### #..## #...#",
    "O": "##### #...# #...# #...# #...# #...# #####",
    "R": "##### #...# #...# ####. #.##. #..## #...#",
    "U": "#...# #...# #...# #...# #...# #...# #####",
}
"""Five columns by seven rows; each row is one word."""

_SCALES: dict[int, tuple[tuple[int, ...], tuple[int, ...]]] = {
    5: ((1, 1, 0, 1, 0, 1, 1), (2, 1, 2, 1, 2)),
    7: ((1, 1, 1, 1, 1, 1, 1), (2, 2, 2, 2, 2)),
    10: ((1, 2, 1, 2, 1, 2, 1), (3, 1, 3, 1, 3)),
    14: ((2, 2, 2, 2, 2, 2, 2), (4, 2, 4, 2, 4)),
    20: ((3, 3, 3, 2, 3, 3, 3), (6, 3, 6, 3, 6)),
}
"""Per height: how many rows and columns of cells each row and column of the shape becomes."""

_GAP = {5: 2, 7: 2, 10: 3, 14: 4, 20: 6}
BLOCK_CHARACTERS = "".join(_SHAPES)


def block_number(text: str, height: int, glyphs: GlyphSet = "full") -> tuple[str, ...]:
    """A number, or one of RUN, CHECK and HOLD, in blocks of a height of `_SCALES`; all rows equally wide."""
    if height not in _SCALES:
        raise ValueError(f"no blocks of {height} rows; there are {', '.join(map(str, _SCALES))}")
    unknown = sorted(set(text) - set(_SHAPES))
    if unknown:
        raise ValueError(f"no block for {', '.join(unknown)}; there are {BLOCK_CHARACTERS}")
    shapes = [_scaled(char, height) for char in text]
    if glyphs == "full":
        stroke = _SCALES[height][1][0]
        shapes = [
            _rounded(rows, stroke) if char.isdigit() else rows
            for char, rows in zip(text, shapes, strict=True)
        ]
    ink = "#" if glyphs == "ascii" else "█"
    rows = ((" " * _GAP[height]).join(parts) for parts in zip(*shapes, strict=True))
    return tuple(row.replace(".", " ").replace("#", ink) for row in rows)


def _rounded(rows: tuple[str, ...], stroke: int) -> tuple[str, ...]:
    """Half blocks at a digit's outer corners, where two strokes meet: less like a letter or a box."""
    margin = "." * (stroke + 1)
    blank = "." * (len(rows[0]) + 2 * len(margin))
    padded = [blank, *(margin + row + margin for row in rows), blank]
    result = []
    for above, row, below in zip(padded, padded[1:], padded[2:], strict=False):
        chars = list(row)
        for place in range(len(margin), len(row) - len(margin)):
            left = row[place - 1] + row[place + 1 : place + 1 + stroke]
            right = row[place + 1] + row[place - stroke : place]
            if row[place] == "#" and "." + "#" * stroke in (left, right):
                chars[place] = {".#": "▄", "#.": "▀"}.get(above[place] + below[place], "#")
        result.append("".join(chars[len(margin) : -len(margin)]))
    return tuple(result)


def _scaled(char: str, height: int) -> tuple[str, ...]:
    rows, columns = _SCALES[height]
    wide = ["".join(dot * columns[place] for place, dot in enumerate(row)) for row in _SHAPES[char].split()]
    return tuple(row for row, count in zip(wide, rows, strict=True) for _ in range(count))


def block_height(text: str, *, width: int, height: int) -> int:
    """The largest block height at which the text fits into width x height cells; 0 when none does."""
    fitting = (rows for rows in _SCALES if rows <= height and len(block_number(text, rows)[0]) <= width)
    return max(fitting, default=0)
