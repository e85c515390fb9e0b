"""What stands around the plot: values at the left, the lines' words at the right, time and events below."""

from __future__ import annotations

from datetime import tzinfo
from itertools import pairwise

import numpy as np

from sandlab.drawing.axes import time_ticks, value_ticks
from sandlab.drawing.canvas import Area
from sandlab.drawing.envelope import columns_of
from sandlab.drawing.frame import Canvas
from sandlab.drawing.glyphs import MARKS
from sandlab.drawing.picture import ChartPicture, Line

_SHORT = {"tolerance": "tol", "reaction": "react"}
_FIRST = ("limit", "reaction", "tolerance", "centre")
"""Whose word stays when two lines want the same row."""


WORDS_IN_FULL = 80
"""Chart width from which the lines' words are not shortened."""

LEAST_WORD, LONGEST_WORD = 6, 24
"""An event's word cut shorter than this says nothing; a longer one would hide the time line."""


def level_words(picture: ChartPicture, *, short: bool) -> tuple[tuple[Line, str], ...]:
    """The words of the lines, as in `upper 44.1`, the most binding first."""
    lines = sorted((line for line in picture.levels() if line.word), key=lambda line: _FIRST.index(line.kind))
    words = [_SHORT.get(line.word, line.word) if short else line.word for line in lines]
    return tuple(
        (line, f"{word} {picture.text(line.value)}") for line, word in zip(lines, words, strict=True)
    )


def draw_value_axis(canvas: Canvas, area: Area, picture: ChartPicture) -> None:
    """Round values down the left side."""
    marks = MARKS[area.glyphs]
    side = area.column - 1
    for row in range(area.row, area.row + area.height):
        canvas.put(row, side, marks.side, "axis")
    for tick in value_ticks(area.low, area.high, max(2, area.height * 2 // 5), picture):
        row = area.cell_row(tick.at)
        canvas.put(row, side, marks.side_tick, "axis")
        canvas.put(row, side - len(tick.label), tick.label, "label")


def draw_level_words(canvas: Canvas, area: Area, picture: ChartPicture) -> None:
    """Each line's word beside its end; where two meet, the less binding one moves a row, by value."""
    marks, taken = MARKS[area.glyphs], dict[int, float]()
    for line, text in level_words(picture, short=canvas.codes.shape[1] < WORDS_IN_FULL):
        row = area.cell_row(line.value)
        free = [place for place in (row, row - 1, row + 1) if _may_stand(area, taken, place, line.value)]
        if not free:
            continue
        taken[free[0]] = line.value
        above, below = line.value > area.high, line.value < area.low
        lead = marks.beyond_high if above else marks.beyond_low if below else " "
        canvas.put(free[0], area.column + area.width, lead + text, line.kind)


def _may_stand(area: Area, taken: dict[int, float], row: int, value: float) -> bool:
    """The row is in the plot and free, and every word above it has a higher value, below it a lower one."""
    if row in taken or not area.row <= row < area.row + area.height:
        return False
    return all(other >= value if place < row else other <= value for place, other in taken.items())


def _columns(area: Area, picture: ChartPicture, times: list[int]) -> list[int]:
    columns = columns_of(np.array(times, dtype=np.int64), picture.window(), area.width)
    return [area.column + int(column) for column in columns]


def draw_time_axis(
    canvas: Canvas, area: Area, picture: ChartPicture, zone: tzinfo, *, dates: bool = True
) -> None:
    """The time line with its ticks and dates, the baseline stretches and the events upon it."""
    marks, row = MARKS[area.glyphs], area.row + area.height
    canvas.put(row, area.column - 1, marks.axis_left + marks.axis * area.width, "axis")
    _draw_ticks(canvas, area, picture, zone, dates=dates)
    start, end = picture.window()
    for span in picture.baselines:
        if span.start <= end and span.end >= start:
            first, last = _columns(area, picture, [max(span.start, start), min(span.end, end)])
            canvas.put(row, first, _stretch(marks.baseline, last - first + 1, span.label), "baseline")
    _draw_events(canvas, area, picture)


def _stretch(mark: str, width: int, label: str) -> str:
    """A stretch of the time line, with its name in it when that leaves the ends standing."""
    for words in (label, label.partition(" ")[0]):
        if words and width >= len(words) + 8:
            return f" {words} ".center(width, mark)
    return mark * width


def _draw_ticks(canvas: Canvas, area: Area, picture: ChartPicture, zone: tzinfo, *, dates: bool) -> None:
    if not picture.times.size and picture.start is None:
        return  # never tested: there is no time to name
    row, free_from, width = area.row + area.height, area.column - 1, canvas.codes.shape[1]
    ticks = time_ticks(*picture.window(), max(1, area.width // 9), zone)
    for tick, column in zip(ticks, _columns(area, picture, [int(tick.at) for tick in ticks]), strict=True):
        place = min(column - len(tick.label) // 2, width - len(tick.label))
        canvas.put(row, column, MARKS[area.glyphs].axis_tick, "axis")
        if place >= free_from and dates:
            canvas.put(row + 1, place, tick.label, "label")
            free_from = place + len(tick.label) + 2


def _draw_events(canvas: Canvas, area: Area, picture: ChartPicture) -> None:
    """Each event's mark on the time line, its word to the right of it, or to the left where that has room."""
    start, end = picture.window()
    row, mark = area.row + area.height, MARKS[area.glyphs].event
    shown = sorted(
        (event for event in picture.events if start <= event.time <= end), key=lambda event: event.time
    )
    columns = _columns(area, picture, [event.time for event in shown])
    free_from = area.column
    for event, (column, following) in zip(shown, pairwise([*columns, area.column + area.width]), strict=True):
        canvas.put(row, column, mark, "event")
        rightward, leftward = following - column - 2, column - free_from - 2
        word = _cut(event.label, LONGEST_WORD)
        cut = _cut(event.label, min(LONGEST_WORD, rightward - 1))
        free_from = column + 1
        if len(cut) >= min(LEAST_WORD, len(word)):
            canvas.put(row, column + 1, f" {cut} ", "event")
            free_from += len(cut) + 2
        elif leftward >= len(word):
            canvas.put(row, column - len(word) - 2, f" {word} ", "event")


def _cut(text: str, width: int) -> str:
    """As much of a text as fits, in whole words where that leaves any, and a mark that there is more."""
    if len(text) <= width:
        return text
    if width < LEAST_WORD:
        return ""
    head = text[: width - 1]
    whole = head if text[len(head)] == " " or " " not in head else head.rsplit(" ", 1)[0]
    return whole.rstrip(" ,;:.") + "~"
