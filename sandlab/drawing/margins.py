"""What stands around the plot: values at the left, the lines' words at the right, time and events below."""

from __future__ import annotations

from datetime import tzinfo

import numpy as np

from sandlab.drawing.axes import number, time_ticks, value_ticks
from sandlab.drawing.canvas import Area
from sandlab.drawing.envelope import columns_of
from sandlab.drawing.frame import Canvas
from sandlab.drawing.glyphs import MARKS
from sandlab.drawing.picture import ChartPicture, Line

_SHORT = {"tolerance": "tol", "reaction": "react"}
_FIRST = ("limit", "reaction", "tolerance", "centre")
"""Whose word stays when two lines want the same row."""


def level_words(picture: ChartPicture, *, short: bool) -> tuple[tuple[Line, str], ...]:
    """The words of the lines, as in `upper 44.1`, the most binding first."""
    lines = sorted((line for line in picture.levels() if line.word), key=lambda line: _FIRST.index(line.kind))
    return tuple(
        (
            line,
            f"{_SHORT.get(line.word, line.word) if short else line.word} {number(line.value, picture.decimals)}",
        )
        for line in lines
    )


def draw_value_axis(canvas: Canvas, area: Area, picture: ChartPicture) -> None:
    """Round values down the left side."""
    marks = MARKS[area.glyphs]
    side = area.column - 1
    for row in range(area.row, area.row + area.height):
        canvas.put(row, side, marks.side, "axis")
    for tick in value_ticks(area.low, area.high, max(2, area.height // 3), picture.decimals):
        row = area.cell_row(tick.at)
        canvas.put(row, side, marks.side_tick, "axis")
        canvas.put(row, side - len(tick.label), tick.label, "label")


def draw_level_words(canvas: Canvas, area: Area, picture: ChartPicture) -> None:
    """Each line's word beside its end, moved by a row when two meet; words of lines off the scale say where to."""
    marks, taken = MARKS[area.glyphs], set[int]()
    column = area.column + area.width
    for line, text in level_words(picture, short=canvas.chars.shape[1] < 80):
        row = area.cell_row(line.value)
        free = [place for place in (row, row - 1, row + 1) if _inside(area, place) and place not in taken]
        if not free:
            continue
        taken.add(free[0])
        beyond = (
            marks.beyond_high
            if line.value > area.high
            else marks.beyond_low
            if line.value < area.low
            else " "
        )
        canvas.put(free[0], column, beyond + text, line.kind)


def _inside(area: Area, row: int) -> bool:
    return area.row <= row < area.row + area.height


def _columns(area: Area, picture: ChartPicture, times: list[int]) -> list[int]:
    columns = columns_of(np.array(times, dtype=np.int64), picture.window(), area.width)
    return [area.column + int(column) for column in columns]


def draw_time_axis(canvas: Canvas, area: Area, picture: ChartPicture, zone: tzinfo) -> None:
    """The time line with its ticks and dates, the baseline stretches and the events upon it."""
    marks, row = MARKS[area.glyphs], area.row + area.height
    canvas.put(row, area.column - 1, marks.axis_left + marks.axis * area.width, "axis")
    start, end = picture.window()
    for span in picture.baselines:
        first, last = _columns(area, picture, [max(span.start, start), min(span.end, end)])
        canvas.put(row, first, marks.baseline * (last - first + 1), "baseline")
    ticks = time_ticks(start, end, max(1, area.width // 12), zone)
    free_from = area.column - 1
    for tick, column in zip(ticks, _columns(area, picture, [int(tick.at) for tick in ticks]), strict=True):
        canvas.put(row, column, marks.axis_tick, "axis")
        place = max(free_from, min(column - len(tick.label) // 2, canvas.chars.shape[1] - len(tick.label)))
        if abs(place + len(tick.label) // 2 - column) <= 3:
            canvas.put(row + 1, place, tick.label, "label")
            free_from = place + len(tick.label) + 2
    shown = [event for event in picture.events if start <= event.time <= end]
    for column in _columns(area, picture, [event.time for event in shown]):
        canvas.put(row, column, marks.event, "event")
