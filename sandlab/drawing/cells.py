"""Chart pictures as terminal cells: background < lines < outlook < tests < signals < cursor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import tzinfo

import numpy as np

from sandlab.drawing.axes import clock_text, day_text, value_range, value_ticks
from sandlab.drawing.canvas import Area, draw_data, draw_levels
from sandlab.drawing.envelope import envelope
from sandlab.drawing.frame import Canvas, Frame
from sandlab.drawing.glyphs import GlyphSet
from sandlab.drawing.margins import (
    WORDS_IN_FULL,
    draw_level_words,
    draw_time_axis,
    draw_value_axis,
    level_words,
)
from sandlab.drawing.marks import draw_cursor, draw_flags, draw_off_scale, flag_mark
from sandlab.drawing.outlook import draw_outlook
from sandlab.drawing.picture import ChartPicture

__all__ = ["aligned", "chart_cells", "flag_mark", "stacked_cells"]

LEAST_WIDTH, LEAST_HEIGHT = 40, 8


def chart_cells(
    picture: ChartPicture, *, width: int, height: int, zone: tzinfo, glyphs: GlyphSet = "full"
) -> Frame:
    """The whole chart with title, axes and labels; when the space is too small, one line that says so."""
    return stacked_cells((picture,), width=width, height=height, zone=zone, glyphs=glyphs)


def stacked_cells(
    pictures: Sequence[ChartPicture], *, width: int, height: int, zone: tzinfo, glyphs: GlyphSet = "full"
) -> Frame:
    """Charts above each other over one stretch of time, that of the first; the dates stand once, below.

    The cursor's column goes through all of them: each reads out its last test up to that time.
    """
    canvas = Canvas(width, height)
    least = LEAST_HEIGHT * len(pictures)
    if width < LEAST_WIDTH or height < least:
        canvas.put(0, 0, f"chart needs {LEAST_WIDTH}x{least} cells, has {width}x{height}", "muted")
        return canvas.frame()
    together = aligned(pictures)
    ranges = [value_range(picture) for picture in together]
    sides = [
        _sides(picture, *ends, width, height // len(pictures))
        for picture, ends in zip(together, ranges, strict=True)
    ]
    left, right = max(one[0] for one in sides), max(one[1] for one in sides)
    # Each chart takes a line for its title and one for its time line; the dates take the last one.
    room, row = height - 1, 0
    for place, (picture, (low, high)) in enumerate(zip(together, ranges, strict=True)):
        share = room // len(together) + (place < room % len(together))
        area = Area(row + 1, left, width - left - right, share - 2, low, high, glyphs)
        _draw(canvas, area, picture, zone, dates=place == len(together) - 1)
        row += share
    return canvas.frame()


def aligned(pictures: Sequence[ChartPicture]) -> list[ChartPicture]:
    """The same window and the cursor at the same time in every picture."""
    first = pictures[0]
    start, end = first.window()
    found = [first]
    for picture in pictures[1:]:
        cursor = None
        if first.cursor is not None and 0 <= first.cursor < first.times.size:
            at = int(np.searchsorted(picture.times, first.times[first.cursor], side="right")) - 1
            cursor = at if at >= 0 else None
        found.append(replace(picture, start=start, end=end, cursor=cursor))
    return found


def _draw(canvas: Canvas, area: Area, picture: ChartPicture, zone: tzinfo, *, dates: bool) -> None:
    levels, data = tuple(picture.levels()), envelope(picture, area.dots_across)
    draw_levels(canvas, area, levels)
    draw_outlook(canvas, area, picture)
    draw_data(canvas, area, data, levels)
    draw_flags(canvas, area, picture)
    draw_off_scale(canvas, area, picture, data)
    if not data.tests:
        canvas.put(area.row + area.height // 2, area.column + 2, "no tests in this time", "muted")
    draw_cursor(canvas, area, picture)
    draw_value_axis(canvas, area, picture)
    draw_level_words(canvas, area, picture)
    draw_time_axis(canvas, area, picture, zone, dates=dates)
    _draw_title(canvas, area.row - 1, picture, zone)


def _sides(picture: ChartPicture, low: float, high: float, width: int, height: int) -> tuple[int, int]:
    """Columns left of the plot for the values, right of it for the lines' words."""
    ticks = value_ticks(low, high, height, picture)
    left = max([len(tick.label) for tick in ticks], default=1) + 2
    words = level_words(picture, short=width < WORDS_IN_FULL)
    return left, max([len(text) for _, text in words], default=-1) + 1


def _draw_title(canvas: Canvas, row: int, picture: ChartPicture, zone: tzinfo) -> None:
    """What is shown at the left; at the right the point under the cursor, or the days."""
    width = canvas.codes.shape[1]
    start, end = picture.window()
    right = f"{day_text(start, zone)} to {day_text(end, zone)}"
    if picture.cursor is not None and 0 <= picture.cursor < picture.values.size:
        value = float(picture.values[picture.cursor])
        reading = picture.text(value) if np.isfinite(value) else "not measured"
        right = f"{clock_text(int(picture.times[picture.cursor]), zone)}  {reading}"
    elif len(right) + 2 + len(picture.heading()) > width or not picture.times.size:
        right = ""
    canvas.put(row, width - len(right), right, "label")
    canvas.put(row, 0, picture.heading()[: max(0, width - len(right) - 2)], "title")
