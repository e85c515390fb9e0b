"""The stretch of time in view: zooming keeps its anchor, panning stays at the tests, no outlier is lost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sandlab.drawing import GLYPH_SETS, GlyphSet, View, chart_cells, newest
from sandlab.drawing.view import AHEAD, LEAST
from tests.drawing.samples import HOUR, START, ZONE, dots, hours, ten_years


def test_the_first_view_holds_the_newest_tests_and_room_after_them() -> None:
    times = hours(1000)
    view = newest(times)
    assert view.start == times[-120]
    assert (view.end - times[-1]) / view.span == pytest.approx(AHEAD, abs=1e-9)
    assert view.shows_last(times)
    assert not view.reaches(times)
    assert newest(hours(50)).reaches(hours(50))


def test_zooming_keeps_the_anchor_in_its_place() -> None:
    times = hours(1000)
    view = View(int(times[400]), int(times[500]))
    around = int(times[425])
    for factor in (0.5, 2.0):
        zoomed = view.zoomed(times, factor, around)
        assert zoomed.span == pytest.approx(factor * view.span)
        assert (around - zoomed.start) / zoomed.span == pytest.approx(0.25, abs=1e-6)


def test_zooming_ends_at_a_few_tests_and_at_all_of_them() -> None:
    times = hours(1000)
    view = newest(times)
    for _ in range(20):
        view = view.zoomed(times, 0.5, int(times[-1]))
    assert view.span == LEAST * HOUR
    for _ in range(20):
        view = view.zoomed(times, 2.0, int(times[-1]))
    assert view.start == times[0]
    assert view.shows_last(times)


def test_panning_stops_at_the_first_test_and_just_after_the_last() -> None:
    times = hours(1000)
    view = newest(times)
    assert view.panned(times, 0.5) == view
    earlier = view.panned(times, -0.5)
    assert earlier.end - view.end == -(view.span // 2)
    for _ in range(100):
        earlier = earlier.panned(times, -0.5)
    assert earlier.start == times[0]
    assert earlier.span == view.span


def test_the_view_follows_a_cursor_only_as_far_as_needed() -> None:
    times = hours(1000)
    view = newest(times)
    assert view.holding(times, 950) == view
    assert view.holding(times, 800).start == times[800]
    assert View(START, START + 10 * HOUR).holding(times, 30).end == times[30]


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_a_planted_outlier_is_visible_at_every_zoom(glyphs: GlyphSet) -> None:
    """From 90,000 tests in view down to 8: the one value that is apart changes the plot."""
    picture = ten_years()
    place = 45_000
    view = View(int(picture.times[0]), int(picture.times[-1]))
    plain = replace(picture, values=np.where(np.arange(90_000) == place, 42.0, picture.values))
    seen = 0
    while True:
        both = (
            chart_cells(
                replace(one, start=view.start, end=view.end), width=100, height=24, zone=ZONE, glyphs=glyphs
            )
            for one in (picture, plain)
        )
        shown, without = ([line[6:-12] for line in frame.lines()[1:-2]] for frame in both)
        assert shown != without, view.span / HOUR
        seen += 1
        closer = view.zoomed(picture.times, 0.5, int(picture.times[place]))
        if closer == view:
            break
        view = closer
    assert seen >= 13


def test_the_outlier_stands_alone_in_the_top_row_of_dots() -> None:
    picture = ten_years()
    for count in (90_000, 9_000, 900):
        start = 45_000 - count // 2
        shown = replace(
            picture, start=int(picture.times[start]), end=int(picture.times[min(start + count, 89_999)])
        )
        grid = dots(chart_cells(shown, width=100, height=24, zone=ZONE))
        top = int(np.flatnonzero(grid.any(axis=1))[0])
        assert 1 <= grid[top].sum() <= 2
