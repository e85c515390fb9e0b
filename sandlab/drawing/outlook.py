"""What is expected after the last test: a line for the level, dotted edges for its band."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing.canvas import Area, braille
from sandlab.drawing.envelope import columns_of
from sandlab.drawing.frame import Canvas
from sandlab.drawing.glyphs import MARKS, ROLE_CODE
from sandlab.drawing.picture import ChartPicture

_BRAILLE = 0x2800


def draw_outlook(canvas: Canvas, area: Area, picture: ChartPicture) -> None:
    """The band to the right of the last test, as far as the window reaches."""
    ahead = picture.outlook
    if ahead is None:
        return
    end = picture.window()[1]
    first, last = columns_of(np.array([ahead.times[0], min(end, ahead.times[-1])]), picture.window(),
                             area.dots_across).tolist()  # fmt: skip
    columns = np.arange(max(0, first), last + 1)
    if not columns.size or end < ahead.times[0]:
        return
    start, stop = picture.window()
    at = start + columns * ((stop - start) / (area.dots_across - 1))
    rows = [area.dot_rows(np.interp(at, ahead.times, row)) for row in (ahead.low, ahead.high, ahead.level)]
    if area.glyphs == "full":
        _draw_dots(canvas, area, columns, rows)
        return
    marks = MARKS[area.glyphs]
    for row, char in zip(rows, (marks.outlook, marks.outlook, marks.centre), strict=True):
        canvas.mark(area.row + row, area.column + columns, char, "outlook")


def _draw_dots(canvas: Canvas, area: Area, columns: NDArray[np.int64], rows: list[NDArray[np.int64]]) -> None:
    """Every second dot along the edges, three of four along the level."""
    dots = np.zeros((area.dots_down, area.dots_across), dtype=bool)
    for row, kept in zip(rows, (columns % 2 == 0, columns % 2 == 0, columns % 4 < 3), strict=True):
        dots[row[kept], columns[kept]] = True
    codes = braille(dots)
    down, across = np.nonzero(codes)
    canvas.codes[area.row + down, area.column + across] = _BRAILLE + codes[down, across].astype(np.uint32)
    canvas.roles[area.row + down, area.column + across] = ROLE_CODE["outlook"]
