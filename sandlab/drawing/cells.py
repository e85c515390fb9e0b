"""A chart picture as terminal cells: background < lines < tests < signals < cursor."""

from __future__ import annotations

from datetime import tzinfo

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing.axes import clock_text, day_text, farthest_beyond, value_range, value_ticks
from sandlab.drawing.canvas import Area, draw_data, draw_levels
from sandlab.drawing.envelope import Envelope, columns_of, envelope
from sandlab.drawing.frame import Canvas, Frame
from sandlab.drawing.glyphs import MARKS, ROLE_CODE, GlyphSet, Marks
from sandlab.drawing.margins import (
    WORDS_IN_FULL,
    draw_level_words,
    draw_time_axis,
    draw_value_axis,
    level_words,
)
from sandlab.drawing.picture import ChartPicture, Flag

LEAST_WIDTH, LEAST_HEIGHT = 40, 8


def chart_cells(
    picture: ChartPicture, *, width: int, height: int, zone: tzinfo, glyphs: GlyphSet = "full"
) -> Frame:
    """The whole chart with title, axes and labels; when the space is too small, one line that says so."""
    canvas = Canvas(width, height)
    if width < LEAST_WIDTH or height < LEAST_HEIGHT:
        canvas.put(0, 0, f"chart needs {LEAST_WIDTH}x{LEAST_HEIGHT} cells, has {width}x{height}", "muted")
        return canvas.frame()
    area = _layout(picture, width, height, glyphs)
    levels, data = tuple(picture.levels()), envelope(picture, area.dots_across)
    draw_levels(canvas, area, levels)
    draw_data(canvas, area, data, levels)
    _draw_flags(canvas, area, picture)
    _draw_off_scale(canvas, area, picture, data)
    if not data.tests:
        canvas.put(area.row + area.height // 2, area.column + 2, "no tests in this time", "muted")
    _draw_cursor(canvas, area, picture)
    draw_value_axis(canvas, area, picture)
    draw_level_words(canvas, area, picture)
    draw_time_axis(canvas, area, picture, zone)
    _draw_title(canvas, picture, zone)
    return canvas.frame()


def _layout(picture: ChartPicture, width: int, height: int, glyphs: GlyphSet) -> Area:
    """The plot between the title above, the time axis below, the values left and the lines' words right."""
    low, high = value_range(picture)
    ticks = value_ticks(low, high, height, picture)
    left = max([len(tick.label) for tick in ticks], default=1) + 2
    words = level_words(picture, short=width < WORDS_IN_FULL)
    right = max([len(text) for _, text in words], default=-1) + 1
    return Area(1, left, width - left - right, height - 3, low, high, glyphs)


def _cell_columns(area: Area, picture: ChartPicture, indexes: NDArray[np.int64]) -> NDArray[np.int64]:
    dots = columns_of(picture.times[indexes], picture.window(), area.dots_across)
    return area.column + dots // (area.dots_across // area.width)


def _place(
    canvas: Canvas, area: Area, picture: ChartPicture, indexes: list[int], char: str, role: str
) -> None:
    """One mark on each of these points that is shown and has a value."""
    shown = picture.shown()
    points = np.array([index for index in indexes if shown.start <= index < shown.stop], dtype=np.int64)
    points = points[np.isfinite(picture.values[points])]
    rows = area.row + area.dot_rows(picture.values[points]) // (area.dots_down // area.height)
    columns = _cell_columns(area, picture, points)
    canvas.mark(rows, columns, char, role)


def flag_mark(flag: Flag, marks: Marks) -> str:
    """The mark of a signal: solid when it alarms, pointing to the side it lies on."""
    if flag.alarm:
        return marks.alarm_low if flag.side < 0 else marks.alarm_high
    return {1: marks.watch_high, -1: marks.watch_low, 0: marks.watch_level}[flag.side]


def _draw_flags(canvas: Canvas, area: Area, picture: ChartPicture) -> None:
    """Members of patterns, then signals to look at, then alarms, so that the gravest stays on top."""
    marks = MARKS[area.glyphs]
    members = sorted({index for flag in picture.flags for index in flag.members})
    _place(canvas, area, picture, members, marks.member, "watch")
    for alarm in (False, True):
        groups: dict[str, list[int]] = {}
        for flag in picture.flags:
            if flag.alarm == alarm:
                groups.setdefault(flag_mark(flag, marks), []).append(flag.index)
        for char, indexes in groups.items():
            _place(canvas, area, picture, indexes, char, "alarm" if alarm else "watch")


def _draw_off_scale(canvas: Canvas, area: Area, picture: ChartPicture, data: Envelope) -> None:
    """Values beyond the axis stand at its edge; the farthest on each side is written out."""
    marks, per_cell = MARKS[area.glyphs], area.dots_across // area.width
    sides = (
        (data.high > area.high, area.row, marks.beyond_high),
        (data.low < area.low, area.row + area.height - 1, marks.beyond_low),
    )
    for beyond, row, char in sides:
        for column in np.unique(area.column + np.flatnonzero(beyond) // per_cell).tolist():
            if canvas.roles[row, column] not in (ROLE_CODE["alarm"], ROLE_CODE["watch"]):
                canvas.put(row, column, char, "data")
    for index in farthest_beyond(picture, area.low, area.high):
        text, row = picture.text(float(picture.values[index])), area.cell_row(float(picture.values[index]))
        column = int(_cell_columns(area, picture, np.array([index]))[0])
        fits = column + len(text) < area.column + area.width
        canvas.put(row, column + 1 if fits else column - len(text), text, "label")


def _draw_cursor(canvas: Canvas, area: Area, picture: ChartPicture) -> None:
    """The cursor's column: empty cells get a line, drawn cells keep their mark and take the cursor's role."""
    shown = picture.shown()
    if picture.cursor is None or not shown.start <= picture.cursor < shown.stop:
        return
    column = int(_cell_columns(area, picture, np.array([picture.cursor]))[0])
    rows = slice(area.row, area.row + area.height)
    keep = np.isin(
        canvas.roles[rows, column], [ROLE_CODE[role] for role in ("data", "watch", "alarm", "label")]
    )
    canvas.codes[rows, column] = np.where(keep, canvas.codes[rows, column], ord(MARKS[area.glyphs].cursor))
    canvas.roles[rows, column] = ROLE_CODE["cursor"]


def _draw_title(canvas: Canvas, picture: ChartPicture, zone: tzinfo) -> None:
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
    canvas.put(0, width - len(right), right, "label")
    canvas.put(0, 0, picture.heading()[: max(0, width - len(right) - 2)], "title")
