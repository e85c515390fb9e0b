"""An estimate over time with its band, past and to come, its tests, and where it belongs."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import tzinfo

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing.axes import Tick, day_text, nice_step, time_ticks
from sandlab.drawing.canvas import Area, between, braille
from sandlab.drawing.frame import Canvas, Frame
from sandlab.drawing.glyphs import MARKS, ROLE_CODE, GlyphSet
from sandlab.drawing.picture import Times, Values
from sandlab.quantities import format_number

LEAST_WIDTH, LEAST_HEIGHT = 36, 7
_FILL: dict[GlyphSet, str] = {"full": "", "console": "░", "ascii": ":"}
_MEAN: dict[GlyphSet, str] = {"full": "", "console": "=", "ascii": "="}


@dataclass(frozen=True, slots=True, eq=False)
class BandPicture:
    """One quantity; times ascend [us since 1970, UTC], low <= mean <= high, all of shape (n,).

    now: where the past ends and the outlook begins
    test_times, tests: results beside it
    target, tolerance: where it belongs, and its ends
    """

    times: Times
    low: Values
    mean: Values
    high: Values
    now: int
    title: str = ""
    unit: str = ""
    decimals: int = 1
    decimal_mark: str = "."
    test_times: Times = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    tests: Values = field(default_factory=lambda: np.zeros(0))
    target: float | None = None
    tolerance: tuple[float, float] | None = None

    def text(self, value: float) -> str:
        """A value as it stands on the axis."""
        return format_number(value, self.decimals, mark=self.decimal_mark)

    def heading(self) -> str:
        """The title with its unit."""
        return f"{self.title} [{self.unit}]" if self.unit else self.title

    def levels(self) -> tuple[tuple[str, str, float], ...]:
        """Role, word and value of each line across."""
        found = [("tolerance", "", end) for end in self.tolerance or ()]
        return (*found, ("centre", "target", self.target)) if self.target is not None else tuple(found)


def band_cells(
    picture: BandPicture, *, width: int, height: int, zone: tzinfo, glyphs: GlyphSet = "full"
) -> Frame:
    """The band with axes; when the space is too small, one line that says so."""
    canvas = Canvas(width, height)
    if width < LEAST_WIDTH or height < LEAST_HEIGHT or picture.times.size < 2:
        few = picture.times.size < 2
        words = "nothing to draw yet" if few else f"the chart needs {LEAST_WIDTH}x{LEAST_HEIGHT} cells"
        canvas.put(0, 0, words, "muted")
        return canvas.frame()
    low, high = _range(picture)
    ticks = _ticks(low, high, max(2, (height - 3) // 3), picture)
    left = max(len(tick.label) for tick in ticks) + 1 if ticks else 2
    right = 1 + max((len(word) + len(picture.text(v)) + 1 for _, word, v in picture.levels()), default=0)
    area = Area(1, left, width - left - right, height - 3, low, high, glyphs)
    _levels(canvas, area, picture)
    _band(canvas, area, picture)
    _tests(canvas, area, picture)
    _axes(canvas, area, picture, ticks, zone)
    start, end = (day_text(int(picture.times[place]), zone) for place in (0, -1))
    days = f"{start} to {end}"
    canvas.put(0, 0, picture.heading(), "title")
    if len(picture.heading()) + len(days) + 2 <= width:
        canvas.put(0, width - len(days), days, "label")
    return canvas.frame()


def _range(picture: BandPicture) -> tuple[float, float]:
    values = [float(picture.low.min()), float(picture.high.max()), *(v for *_, v in picture.levels())]
    if picture.tests.size:
        values += [float(picture.tests.min()), float(picture.tests.max())]
    low, high = min(values), max(values)
    pad = max((high - low) * 0.05, 10.0**-picture.decimals)
    return low - pad, high + pad


def _ticks(low: float, high: float, most: int, picture: BandPicture) -> list[Tick]:
    step = nice_step(high - low, most, picture.decimals)
    first, last = int(np.ceil(low / step)), int(np.floor(high / step))
    return [Tick(count * step, picture.text(count * step)) for count in range(first, last + 1)]


def _places(area: Area, picture: BandPicture, times: Times, steps: int) -> NDArray[np.int64]:
    """Columns of times, of so many across the plot."""
    first, last = int(picture.times[0]), int(picture.times[-1])
    share = (times - first) / max(1, last - first)
    return np.clip(np.floor(share * (steps - 1) + 0.5), 0, steps - 1).astype(np.int64)


def _levels(canvas: Canvas, area: Area, picture: BandPicture) -> None:
    marks = MARKS[area.glyphs]
    for role, word, value in picture.levels():
        row = area.cell_row(value)
        canvas.put(row, area.column, getattr(marks, role) * area.width, role)
        if word:
            canvas.put(row, area.column + area.width + 1, f"{word} {picture.text(value)}", role)


def _band(canvas: Canvas, area: Area, picture: BandPicture) -> None:
    """Mean as a line, the band around it as a grain, over the levels."""
    steps = area.dots_across
    grid = np.linspace(float(picture.times[0]), float(picture.times[-1]), steps)
    low, mean, high = (
        np.interp(grid, picture.times.astype(np.float64), one)
        for one in (picture.low, picture.mean, picture.high)
    )
    top, bottom, middle = area.dot_rows(high), area.dot_rows(low), area.dot_rows(mean)
    filled = between(top, bottom, area.dots_down)
    if area.glyphs != "full":
        rows, columns = np.nonzero(filled)
        canvas.mark(area.row + rows, area.column + columns, _FILL[area.glyphs], "zone")
        canvas.mark(area.row + middle, area.column + np.arange(steps), _MEAN[area.glyphs], "data")
        return
    place = np.arange(area.dots_down)[:, None] + np.arange(steps)
    dots = filled & (place % 4 == 0) & (np.arange(steps) % 2 == 0)
    joined_top = np.minimum(middle, np.concatenate([middle[:1], middle[:-1]]))
    joined_bottom = np.maximum(middle, np.concatenate([middle[:1], middle[:-1]]))
    line = between(joined_top, joined_bottom, area.dots_down)
    for mask, role in ((dots, "zone"), (dots | line, "data")):
        codes = braille(mask)
        only = braille(line) > 0 if role == "data" else codes > 0
        rows, columns = np.nonzero(only)
        canvas.codes[area.row + rows, area.column + columns] = 0x2800 + codes[rows, columns].astype(np.uint32)
        canvas.roles[area.row + rows, area.column + columns] = ROLE_CODE[role]


def _tests(canvas: Canvas, area: Area, picture: BandPicture) -> None:
    inside = (picture.test_times >= picture.times[0]) & (picture.test_times <= picture.times[-1])
    if inside.any():
        columns = area.column + _places(area, picture, picture.test_times[inside], area.width)
        per_row = area.dots_down // area.height
        rows = area.row + area.dot_rows(picture.tests[inside]) // per_row
        canvas.mark(rows, columns, MARKS[area.glyphs].point, "event")


def _axes(canvas: Canvas, area: Area, picture: BandPicture, ticks: list[Tick], zone: tzinfo) -> None:
    marks = MARKS[area.glyphs]
    for row in range(area.row, area.row + area.height):
        canvas.put(row, area.column - 1, marks.side, "axis")
    for tick in ticks:
        row = area.cell_row(tick.at)
        canvas.put(row, area.column - 1, marks.side_tick, "axis")
        canvas.put(row, area.column - 1 - len(tick.label), tick.label, "label")
    bottom = area.row + area.height
    canvas.put(bottom, area.column - 1, marks.axis_left + marks.axis * area.width, "axis")
    first, last = int(picture.times[0]), int(picture.times[-1])
    free_from = 0
    for tick in time_ticks(first, last, max(1, area.width // 7), zone):
        column = area.column + int(_places(area, picture, np.array([int(tick.at)]), area.width)[0])
        place = min(column - len(tick.label) // 2, canvas.codes.shape[1] - len(tick.label))
        canvas.put(bottom, column, marks.axis_tick, "axis")
        if place >= free_from:
            canvas.put(bottom + 1, place, tick.label, "label")
            free_from = place + len(tick.label) + 1
    if first < picture.now < last:
        column = area.column + int(_places(area, picture, np.array([picture.now]), area.width)[0])
        canvas.put(bottom, column, f"{marks.event} now", "event")
