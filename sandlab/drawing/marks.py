"""The marks on single tests: signals and their patterns, tests left out, values off the scale, the cursor."""

from __future__ import annotations

from bisect import bisect_left
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
    canvas: Canvas, area: Area, picture: ChartPicture, indexes: Sequence[int], char: str, role: str
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


def flags_in_view(picture: ChartPicture) -> Sequence[Flag]:
    """The signals whose point lies in the window; of a long history only these are looked at."""
    shown, flags = picture.shown(), sorted(picture.flags, key=lambda flag: flag.index)
    first, last = (bisect_left(flags, end, key=lambda flag: flag.index) for end in (shown.start, shown.stop))
    return flags[first:last]


def draw_flags(canvas: Canvas, area: Area, picture: ChartPicture) -> None:
    """Members of patterns, signals to look at, alarms, the gravest on top; then those left out.

    With a cursor only the pattern read out is ringed.
    """
    marks, flags, shown = MARKS[area.glyphs], flags_in_view(picture), picture.shown()
    read = [flag for flag in flags if picture.cursor in (None, flag.index)]
    members = sorted({index for flag in read for index in flag.members})
    if picture.cursor is not None or 10 * len(members) <= CROWDED * (shown.stop - shown.start):
        _place(canvas, area, picture, members, marks.member, "watch")
    for alarm in (False, True):
        groups: dict[str, list[int]] = {}
        for flag in flags:
            if flag.alarm == alarm:
                groups.setdefault(flag_mark(flag, marks), []).append(flag.index)
        for char, indexes in groups.items():
            _place(canvas, area, picture, indexes, char, "alarm" if alarm else "watch")
    _place(canvas, area, picture, picture.excluded, marks.excluded, "muted")


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
