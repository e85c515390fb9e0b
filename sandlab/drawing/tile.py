"""A small chart on a wall of many: name and value above, the last tests between their limits, state below."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing.axes import value_range
from sandlab.drawing.canvas import Area, draw_data, draw_levels
from sandlab.drawing.envelope import envelope
from sandlab.drawing.frame import Canvas, Frame
from sandlab.drawing.glyphs import GlyphSet
from sandlab.drawing.marks import draw_flags
from sandlab.drawing.picture import ChartPicture, Flag
from sandlab.drawing.states import state

_CHOSEN: dict[GlyphSet, str] = {"full": "▶", "console": "▶", "ascii": ">"}
LEAST_HEIGHT = 4


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """What a small chart shows: `state` is a key of the table of states, `words` say it, `age` in words."""

    title: str
    reading: str
    state: str
    words: str
    age: str
    values: NDArray[np.float64]
    decimals: int = 1
    centre: float | None = None
    lower: float | None = None
    upper: float | None = None


def tile_cells(
    tile: Tile, *, width: int, height: int, glyphs: GlyphSet = "full", chosen: bool = False
) -> Frame:
    """The tile with a blank column at its right, so that neighbours stand apart."""
    canvas, inside = Canvas(width, height), width - 1
    entry = state(tile.state)
    title = f"{_CHOSEN[glyphs] if chosen else ' '}{_cut(tile.title, inside - len(tile.reading) - 2)}"
    heading = f"{title:<{inside - len(tile.reading)}}{tile.reading}"
    canvas.put(0, 0, heading, "cursor" if chosen else "title")
    if height < LEAST_HEIGHT:
        return canvas.frame()
    _draw_chart(canvas, tile, inside - 1, height - 2, glyphs)
    words = f" {entry.glyph(glyphs)} {tile.words or entry.word}"
    canvas.put(height - 1, 0, _cut(words, inside - len(tile.age) - 1), entry.role)
    canvas.put(height - 1, inside - len(tile.age), tile.age, "muted")
    return canvas.frame()


def _draw_chart(canvas: Canvas, tile: Tile, width: int, height: int, glyphs: GlyphSet) -> None:
    """The last tests, equally far apart, with centre and limits; those beyond a limit carry its triangle."""
    values = tile.values
    if not np.isfinite(values).any():
        canvas.put(1 + height // 2, 1, "no tests yet", "muted")
        return
    high = np.flatnonzero(values > (np.inf if tile.upper is None else tile.upper))
    low = np.flatnonzero(values < (-np.inf if tile.lower is None else tile.lower))
    picture = ChartPicture(
        times=np.arange(values.size, dtype=np.int64),
        values=values,
        decimals=tile.decimals,
        centre=tile.centre,
        lower=tile.lower,
        upper=tile.upper,
        flags=(*(Flag(int(i), 1, True) for i in high), *(Flag(int(i), -1, True) for i in low)),
        start=0,
        end=max(1, values.size - 1),
    )
    area = Area(1, 1, width, height, *value_range(picture), glyphs)
    levels, data = tuple(picture.levels()), envelope(picture, area.dots_across)
    draw_levels(canvas, area, levels)
    draw_data(canvas, area, data, levels)
    draw_flags(canvas, area, picture)


def _cut(text: str, width: int) -> str:
    """The text, or as much of it as fits with a sign that it goes on."""
    return text if len(text) <= width else text[: max(0, width - 1)].rstrip() + "~"
