"""The plotting area of a chart: values and times to dots, dots to characters of a glyph set."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing.envelope import Envelope
from sandlab.drawing.frame import Canvas
from sandlab.drawing.glyphs import MARKS, ROLE_CODE, GlyphSet
from sandlab.drawing.picture import Line, LineKind

_DOTS = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]], dtype=np.uint8)
_BRAILLE = 0x2800

ROOM_FOR_ZONES = 24
"""Rows of plot from which zone lines help more than they clutter."""

_DASHES: dict[LineKind, str] = {
    "limit": "#",
    "centre": "#####...",
    "reaction": "##",
    "tolerance": "##..",
    "zone": "#.......",
}
"""Dots along a line in the full set: the more a line binds, the fewer gaps."""


@dataclass(frozen=True, slots=True)
class Area:
    """Where the plot lies on the canvas and what its edges stand for."""

    row: int
    column: int
    width: int
    height: int
    low: float
    high: float
    glyphs: GlyphSet

    @property
    def dots_across(self) -> int:
        """Columns that can be told apart."""
        return self.width * (2 if self.glyphs == "full" else 1)

    @property
    def dots_down(self) -> int:
        """Heights that can be told apart."""
        return self.height * (4 if self.glyphs == "full" else 1)

    def dot_rows(self, values: NDArray[np.float64]) -> NDArray[np.int64]:
        """The dot row of each value, counted from the top; values off the scale go to the edge, NaN to -1."""
        share = (self.high - values) / (self.high - self.low)
        rows = np.clip(np.floor(share * (self.dots_down - 1) + 0.5), 0, self.dots_down - 1)
        return np.where(np.isnan(values), -1, rows).astype(np.int64)

    def cell_row(self, value: float) -> int:
        """The canvas row of one value."""
        dots_per_row = self.dots_down // self.height
        return self.row + int(self.dot_rows(np.array([value]))[0]) // dots_per_row


def between(top: NDArray[np.int64], bottom: NDArray[np.int64], rows: int) -> NDArray[np.bool_]:
    """The dots from top to bottom of each column; columns of -1 stay empty."""
    place = np.arange(rows)[:, None]
    return (place >= top) & (place <= bottom) & (top >= 0)


def braille(mask: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Dots gathered into braille codes, eight to a cell."""
    rows, columns = mask.shape
    boxes = mask.reshape(rows // 4, 4, columns // 2, 2)
    return np.asarray((boxes * _DOTS[None, :, None, :]).sum(axis=(1, 3), dtype=np.uint8))


def draw_levels(canvas: Canvas, area: Area, levels: tuple[Line, ...]) -> None:
    """The lines across the plot that lie on its scale; zones only given room.

    A row of cells shows one line, the most binding one: two in one colour could not be told apart.
    """
    for line in levels:
        if area.low <= line.value <= area.high and (line.kind != "zone" or area.height >= ROOM_FOR_ZONES):
            _draw_level(canvas, area, line)


def _draw_level(canvas: Canvas, area: Area, line: Line) -> None:
    row = area.cell_row(line.value)
    if area.glyphs != "full":
        canvas.put(row, area.column, getattr(MARKS[area.glyphs], line.kind) * area.width, line.kind)
        return
    dash = np.array([char == "#" for char in _DASHES[line.kind]])
    dots = np.zeros((4, area.dots_across), dtype=bool)
    at = int(area.dot_rows(np.array([line.value]))[0]) % 4
    dots[at] = np.resize(dash, area.dots_across)
    if line.kind == "reaction":
        dots[at + 1 if at < 3 else at - 1] = dots[at]
    codes = braille(dots)[0]
    columns = area.column + np.flatnonzero(codes)
    canvas.put(row, area.column, " " * area.width, "blank")
    canvas.codes[row, columns] = _BRAILLE + codes[codes > 0].astype(np.uint32)
    canvas.roles[row, columns] = ROLE_CODE[line.kind]


def draw_data(canvas: Canvas, area: Area, data: Envelope, levels: tuple[Line, ...]) -> None:
    """The tests: dots joined by a line, or one mark per cell where the glyph set has no finer ones."""
    bold = [
        line for line in levels if line.kind in ("centre", "limit") and area.low <= line.value <= area.high
    ]
    if area.glyphs == "full":
        _draw_dots(canvas, area, data, bold)
    else:
        _draw_marks(canvas, area, data, bold)


def _draw_dots(canvas: Canvas, area: Area, data: Envelope, bold: list[Line]) -> None:
    """Tests that stand far enough apart are two dots wide and high, the line between them one.

    Where the tests fill the chart, centre and limits would drown: they are cut out of the filling as a dark
    line, never out of its upper and lower edge.
    """
    dots = between(area.dot_rows(data.line_high), area.dot_rows(data.line_low), area.dots_down)
    if data.tests * 3 <= area.dots_across:
        points = between(area.dot_rows(data.high), area.dot_rows(data.low), area.dots_down)
        points[1:] |= points[:-1]
        points[:, 1:] |= points[:, :-1]
        dots |= points
    elif data.tests > area.dots_across:
        for row in area.dot_rows(np.array([line.value for line in bold])).tolist():
            if 0 < row < area.dots_down - 1:
                dots[row] &= ~(dots[row - 1] & dots[row + 1])
    codes = braille(dots)
    rows, columns = np.nonzero(codes)
    canvas.codes[area.row + rows, area.column + columns] = _BRAILLE + codes[rows, columns].astype(np.uint32)
    canvas.roles[area.row + rows, area.column + columns] = ROLE_CODE["data"]


def _draw_marks(canvas: Canvas, area: Area, data: Envelope, bold: list[Line]) -> None:
    """A mark per test; a column with several has one at the lowest and the highest and a bar between."""
    marks = MARKS[area.glyphs]
    top, bottom = area.dot_rows(data.high), area.dot_rows(data.low)
    filled = between(top, bottom, area.height)
    rows, columns = np.nonzero(filled)
    canvas.mark(area.row + rows, area.column + columns, marks.fill, "data")
    for line in bold:
        row = area.cell_row(line.value)
        crossed = area.column + np.flatnonzero(filled[row - area.row])
        canvas.mark(np.full_like(crossed, row), crossed, marks.crossing, line.kind)
    held = np.flatnonzero(top >= 0)
    for ends in (top[held], bottom[held]):
        canvas.mark(area.row + ends, area.column + held, marks.point, "data")
