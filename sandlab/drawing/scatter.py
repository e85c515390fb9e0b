"""Two properties against each other: the baseline's tests as dots, later ones as marks, the expected band."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing.axes import nice_step
from sandlab.drawing.canvas import Area, braille
from sandlab.drawing.frame import Canvas, Frame
from sandlab.drawing.glyphs import MARKS, ROLE_CODE, GlyphSet
from sandlab.quantities import format_number

Values = NDArray[np.float64]
LEAST_WIDTH, LEAST_HEIGHT = 40, 8
_BRAILLE = 0x2800


@dataclass(frozen=True, slots=True)
class Axis:
    """One of the two properties."""

    title: str
    unit: str
    decimals: int

    def heading(self) -> str:
        """Its name with its unit."""
        return self.title if self.unit in ("", "-", "1") else f"{self.title} [{self.unit}]"


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """The expected y with its band, at ascending x."""

    x: Values
    centre: Values
    low: Values
    high: Values


@dataclass(frozen=True, slots=True, eq=False)
class ScatterPicture:
    """Pairs in the order of time: those of the baseline first, from `later` on those after it.

    `outside` tells for each pair on which side of the band it lies: 1 above, -1 below, 0 inside.
    """

    across: Axis
    up: Axis
    x: Values
    y: Values
    later: int
    outside: NDArray[np.int8]
    band: Band | None = None
    cursor: int | None = None
    decimal_mark: str = "."

    def ranges(self) -> tuple[float, float, float, float]:
        """Left, right, bottom and top: everything is in view."""
        rows = [self.y] if self.band is None else [self.y, self.band.low, self.band.high]
        everything = np.concatenate(rows)
        return (*_padded(self.x, self.across.decimals), *_padded(everything, self.up.decimals))

    def ticks(self, low: float, high: float, most: int, axis: Axis) -> tuple[tuple[float, str], ...]:
        """Round values of an axis with their texts."""
        step = nice_step(high - low, most, axis.decimals)
        first, last = int(np.ceil(low / step - 1e-9)), int(np.floor(high / step + 1e-9))
        marks = (count * step for count in range(first, last + 1))
        return tuple((at, format_number(at, axis.decimals, mark=self.decimal_mark)) for at in marks)


def _padded(values: Values, decimals: int) -> tuple[float, float]:
    finite = values[np.isfinite(values)]
    low, high = (float(finite.min()), float(finite.max())) if finite.size else (0.0, 1.0)
    pad = max(0.04 * (high - low), 2.0 * 10.0**-decimals)
    return low - pad, high + pad


def scatter_cells(picture: ScatterPicture, *, width: int, height: int, glyphs: GlyphSet = "full") -> Frame:
    """The scatter with its axes; when the space is too small, one line that says so."""
    canvas = Canvas(width, height)
    if width < LEAST_WIDTH or height < LEAST_HEIGHT:
        canvas.put(0, 0, f"chart needs {LEAST_WIDTH}x{LEAST_HEIGHT} cells, has {width}x{height}", "muted")
        return canvas.frame()
    left, right, low, high = picture.ranges()
    upward = picture.ticks(low, high, max(2, (height - 3) * 2 // 5), picture.up)
    margin = max([len(text) for _, text in upward], default=1) + 2
    area = Area(1, margin, width - margin - 1, height - 3, low, high, glyphs)
    _draw_band(canvas, area, picture, left, right)
    _draw_pairs(canvas, area, picture, left, right)
    _draw_axes(canvas, area, picture, left, right, upward)
    return canvas.frame()


def _columns(area: Area, left: float, right: float, x: Values) -> NDArray[np.int64]:
    place = (x - left) / (right - left) * (area.dots_across - 1)
    return np.clip(np.floor(place + 0.5), 0, area.dots_across - 1).astype(np.int64)


def _put_dots(canvas: Canvas, area: Area, dots: NDArray[np.bool_], role: str) -> None:
    """Dots join those of a line that is there already, which keeps its colour."""
    codes = braille(dots)
    rows, columns = np.nonzero(codes)
    cells = (area.row + rows, area.column + columns)
    there = canvas.codes[cells] >= _BRAILLE
    joined = np.where(there, canvas.codes[cells], _BRAILLE) | codes[rows, columns].astype(np.uint32)
    canvas.codes[cells] = joined
    canvas.roles[cells] = np.where(there, canvas.roles[cells], ROLE_CODE[role])


def _draw_band(canvas: Canvas, area: Area, picture: ScatterPicture, left: float, right: float) -> None:
    """The expected line, solid so that it shows through the dots, and the edges of its band dotted."""
    band = picture.band
    if band is None:
        return
    columns = np.arange(area.dots_across)
    at = left + columns * ((right - left) / (area.dots_across - 1))
    for row, role, kept in (
        (band.low, "limit", columns % 2 == 0),
        (band.high, "limit", columns % 2 == 0),
        (band.centre, "centre", columns >= 0),
    ):
        rows = area.dot_rows(np.interp(at, band.x, row))
        kept = kept & (at >= band.x[0]) & (at <= band.x[-1])
        if area.glyphs == "full":
            dots = np.zeros((area.dots_down, area.dots_across), dtype=bool)
            dots[rows[kept], columns[kept]] = True
            _put_dots(canvas, area, dots, role)
        else:
            char = MARKS[area.glyphs].centre if role == "centre" else MARKS[area.glyphs].tolerance
            canvas.mark(area.row + rows[kept], area.column + columns[kept], char, role)


def _draw_pairs(canvas: Canvas, area: Area, picture: ScatterPicture, left: float, right: float) -> None:
    """Baseline as fine dots, later pairs as points, those outside the band as triangles, the newest last."""
    marks, per = MARKS[area.glyphs], (area.dots_across // area.width, area.dots_down // area.height)
    columns, rows = _columns(area, left, right, picture.x), area.dot_rows(picture.y)
    base = slice(0, picture.later)
    if area.glyphs == "full":
        dots = np.zeros((area.dots_down, area.dots_across), dtype=bool)
        dots[rows[base], columns[base]] = True
        _put_dots(canvas, area, dots, "muted")
    else:
        canvas.mark(area.row + rows[base], area.column + columns[base], marks.zone, "muted")
    for side, char, role in (
        (0, marks.point, "data"),
        (1, marks.alarm_high, "alarm"),
        (-1, marks.alarm_low, "alarm"),
    ):
        chosen = np.flatnonzero(picture.outside[picture.later :] == side) + picture.later
        canvas.mark(area.row + rows[chosen] // per[1], area.column + columns[chosen] // per[0], char, role)
    if picture.cursor is not None and 0 <= picture.cursor < picture.x.size:
        row = area.row + int(rows[picture.cursor]) // per[1]
        column = area.column + int(columns[picture.cursor]) // per[0]
        # The cross hairs leave what is drawn already.
        free = np.flatnonzero(canvas.codes[row, area.column : area.column + area.width] == ord(" "))
        canvas.mark(np.full_like(free, row), area.column + free, marks.axis, "axis")
        free = np.flatnonzero(canvas.codes[area.row : area.row + area.height, column] == ord(" "))
        canvas.mark(area.row + free, np.full_like(free, column), marks.cursor, "axis")
        canvas.put(row, column, marks.event, "cursor")


def _draw_axes(
    canvas: Canvas,
    area: Area,
    picture: ScatterPicture,
    left: float,
    right: float,
    upward: tuple[tuple[float, str], ...],
) -> None:
    marks, bottom = MARKS[area.glyphs], area.row + area.height
    for row in range(area.row, bottom):
        canvas.put(row, area.column - 1, marks.side, "axis")
    for at, text in upward:
        canvas.put(area.cell_row(at), area.column - 1, marks.side_tick, "axis")
        canvas.put(area.cell_row(at), area.column - 1 - len(text), text, "label")
    canvas.put(bottom, area.column - 1, marks.axis_left + marks.axis * area.width, "axis")
    free = area.column
    name = picture.across.heading()
    for at, text in picture.ticks(left, right, max(2, area.width // 10), picture.across):
        column = area.column + int(_columns(area, left, right, np.array([at]))[0]) // (
            area.dots_across // area.width
        )
        canvas.put(bottom, column, marks.axis_tick, "axis")
        place = column - len(text) // 2
        if place >= free and place + len(text) < area.column + area.width - len(name) - 1:
            canvas.put(bottom + 1, place, text, "label")
            free = place + len(text) + 2
    canvas.put(0, 0, picture.up.heading(), "title")
    canvas.put(bottom + 1, area.column + area.width - len(name), name, "title")
