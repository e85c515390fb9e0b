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
_BRAILLE = np.array([chr(0x2800 + code) for code in range(256)])

_DASHES: dict[LineKind, str] = {
    "limit": "#",
    "centre": "#####...",
    "reaction": "##",
    "tolerance": "##..",
    "zone": "#...",
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
    """The lines across the plot that lie on its scale, the most binding last."""
    for line in levels:
        if area.low <= line.value <= area.high:
            _draw_level(canvas, area, line)


def _draw_level(canvas: Canvas, area: Area, line: Line) -> None:
    row = area.cell_row(line.value)
    if area.glyphs != "full":
        canvas.put(row, area.column, getattr(MARKS[area.glyphs], line.kind) * area.width, line.kind)
        return
    dash = np.array([char == "#" for char in _DASHES[line.kind]])
    mask = np.zeros((4, area.dots_across), dtype=bool)
    mask[int(area.dot_rows(np.array([line.value]))[0]) % 4] = np.resize(dash, area.dots_across)
    _merge(canvas, area, braille(mask), slice(row, row + 1), line.kind)


def _merge(canvas: Canvas, area: Area, codes: NDArray[np.uint8], rows: slice, role: str) -> None:
    """Lay dots over what is there: dots add up, the newest role wins."""
    columns = slice(area.column, area.column + area.width)
    chars, roles = canvas.chars[rows, columns], canvas.roles[rows, columns]
    under = chars.view(np.uint32).reshape(chars.shape) if chars.flags.c_contiguous else _code_points(chars)
    old = np.where((under >= 0x2800) & (under < 0x2900), under - 0x2800, 0).astype(np.uint8)
    drawn = codes > 0
    chars[drawn] = _BRAILLE[(codes | old)[drawn]]
    roles[drawn] = ROLE_CODE[role]


def _code_points(chars: NDArray[np.str_]) -> NDArray[np.uint32]:
    return np.ascontiguousarray(chars).view(np.uint32).reshape(chars.shape)


def draw_data(canvas: Canvas, area: Area, data: Envelope, *, sparse: bool) -> None:
    """The tests: dots joined by a line, or one mark per cell where the glyph set has no finer ones."""
    if area.glyphs == "full":
        _draw_dots(canvas, area, data, sparse=sparse)
    else:
        _draw_marks(canvas, area, data)


def _draw_dots(canvas: Canvas, area: Area, data: Envelope, *, sparse: bool) -> None:
    mask = between(area.dot_rows(data.line_high), area.dot_rows(data.line_low), area.dots_down)
    if sparse:
        points = between(area.dot_rows(data.high), area.dot_rows(data.low), area.dots_down)
        points[1:] |= points[:-1]
        points[:, 1:] |= points[:, :-1]
        mask |= points
    _merge(canvas, area, braille(mask), slice(area.row, area.row + area.height), "data")


def _draw_marks(canvas: Canvas, area: Area, data: Envelope) -> None:
    marks = MARKS[area.glyphs]
    rows, columns = slice(area.row, area.row + area.height), slice(area.column, area.column + area.width)
    chars, roles = canvas.chars[rows, columns], canvas.roles[rows, columns]
    top, bottom = area.dot_rows(data.high), area.dot_rows(data.low)
    own = between(top, bottom, area.height)
    line = between(area.dot_rows(data.line_high), area.dot_rows(data.line_low), area.height)
    chars[line] = marks.join
    chars[own] = marks.fill
    chars[own & (top == bottom)[None, :]] = marks.point
    roles[line] = ROLE_CODE["data"]
