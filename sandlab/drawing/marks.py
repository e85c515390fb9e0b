"""The marks on single tests: signals and their patterns, tests left out, values off the scale, the cursor."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing.axes import farthest_beyond
from sandlab.drawing.canvas import Area
from sandlab.drawing.envelope import Envelope, columns_of
from sandlab.drawing.frame import Canvas
from sandlab.drawing.glyphs import MARKS, ROLE_CODE, Marks
from sandlab.drawing.picture import ChartPicture, Flag

CROWDED = 3
"""With more than so many members of patterns in ten tests the rings would cover what they point at."""


def cell_columns(area: Area, picture: ChartPicture, indexes: NDArray[np.int64]) -> NDArray[np.int64]:
    """The canvas column of each point."""
    dots = columns_of(picture.times[indexes], picture.window(), area.dots_across)
    return area.column + dots // (area.dots_across // area.width)


def _place(
    canvas: Canvas,
    area: Area,
    picture: ChartPicture,
    indexes: Sequence[int] | NDArray[np.int64],
    char: str,
    role: str,
) -> None:
    """One mark on each of these points that is shown and has a value."""
    shown = picture.shown()
    points = np.array(indexes, dtype=np.int64)
    points = points[(points >= shown.start) & (points < shown.stop)]
    points = points[np.isfinite(picture.values[points])]
    rows = area.row + area.dot_rows(picture.values[points]) // (area.dots_down // area.height)
    canvas.mark(rows, cell_columns(area, picture, points), char, role)


def flag_mark(flag: Flag, marks: Marks) -> str:
    """The mark of a signal: solid when it alarms, pointing to the side it lies on."""
    if flag.alarm:
        return marks.alarm_low if flag.side < 0 else marks.alarm_high
    return {1: marks.watch_high, -1: marks.watch_low, 0: marks.watch_level}[flag.side]


def draw_flags(canvas: Canvas, area: Area, picture: ChartPicture) -> None:
    """Members of patterns, signals to look at, alarms, the gravest on top; then those left out."""
    table, marks, shown = picture.table, MARKS[area.glyphs], picture.shown()
    assert table is not None
    part = table.within(shown)
    _draw_members(canvas, area, picture, table.flags[part])
    index, kinds = table.index[part], table.kinds[part]
    for kind, char, role in (
        (0, marks.watch_level, "watch"),
        (1, marks.watch_high, "watch"),
        (-1, marks.watch_low, "watch"),
        (2, marks.alarm_high, "alarm"),
        (-2, marks.alarm_low, "alarm"),
    ):
        _place(canvas, area, picture, index[kinds == kind], char, role)
    _place(canvas, area, picture, picture.excluded, marks.excluded, "muted")


def _draw_members(canvas: Canvas, area: Area, picture: ChartPicture, flags: Sequence[Flag]) -> None:
    """Rings around the points of patterns: of the one read out, or of all while they are few."""
    shown, cursor = picture.shown(), picture.cursor
    read = [flag for flag in flags if flag.index == cursor] if cursor is not None else flags
    if cursor is None and 10 * len(flags) > CROWDED * (shown.stop - shown.start):
        return
    members = sorted({index for flag in read for index in flag.members})
    if cursor is not None or 10 * len(members) <= CROWDED * (shown.stop - shown.start):
        _place(canvas, area, picture, members, MARKS[area.glyphs].member, "watch")


def draw_off_scale(canvas: Canvas, area: Area, picture: ChartPicture, data: Envelope) -> None:
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
    if not (
        np.nanmax(data.high, initial=-np.inf) > area.high or np.nanmin(data.low, initial=np.inf) < area.low
    ):
        return
    for index in farthest_beyond(picture, area.low, area.high):
        text, row = picture.text(float(picture.values[index])), area.cell_row(float(picture.values[index]))
        column = int(cell_columns(area, picture, np.array([index]))[0])
        fits = column + len(text) < area.column + area.width
        canvas.put(row, column + 1 if fits else column - len(text), text, "label")


def draw_cursor(canvas: Canvas, area: Area, picture: ChartPicture) -> None:
    """The cursor's column: empty cells get a line, drawn cells keep their mark and take the cursor's role."""
    shown = picture.shown()
    if picture.cursor is None or not shown.start <= picture.cursor < shown.stop:
        return
    column = int(cell_columns(area, picture, np.array([picture.cursor]))[0])
    rows = slice(area.row, area.row + area.height)
    keep = np.isin(
        canvas.roles[rows, column], [ROLE_CODE[role] for role in ("data", "watch", "alarm", "label", "muted")]
    )
    canvas.codes[rows, column] = np.where(keep, canvas.codes[rows, column], ord(MARKS[area.glyphs].cursor))
    canvas.roles[rows, column] = ROLE_CODE["cursor"]
