"""An estimate with its band: what is drawn where, in three glyph sets."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sandlab.drawing import GLYPH_SETS, BandPicture, GlyphSet, band_cells
from tests.drawing.samples import HOUR, START, ZONE, dots, hours
from tests.drawing.test_golden import compare


def clay() -> BandPicture:
    """Four days of an estimate and three to come, with a test each shift."""
    times = hours(168)
    mean = 8.0 + 0.3 * np.sin(np.arange(168) / 12.0)
    half = np.where(np.arange(168) < 96, 0.2, 0.2 + 0.006 * np.maximum(0, np.arange(168) - 96))
    tests = np.arange(4, 96, 8)
    return BandPicture(
        times,
        mean - half,
        mean,
        mean + half,
        START + 96 * HOUR,
        title="Active clay",
        unit="%",
        decimals=2,
        test_times=times[tests],
        tests=mean[tests] + 0.15 * np.cos(tests * 1.7),
        target=8.0,
        tolerance=(7.4, 8.6),
    )


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_the_band(glyphs: GlyphSet) -> None:
    """Words, lines, tests, and where the outlook begins."""
    compare(f"band_{glyphs}", band_cells(clay(), width=80, height=16, zone=ZONE, glyphs=glyphs).text())


def test_the_mean_stands_where_its_value_is() -> None:
    """A level mean half way up: the solid dots lie in the middle rows, the whole width across."""
    times = hours(50)
    flat = BandPicture(times, np.full(50, 9.0), np.full(50, 10.0), np.full(50, 11.0), START)
    frame = band_cells(flat, width=60, height=23, zone=ZONE)
    grid = dots(frame)
    full_rows = np.flatnonzero(grid.sum(axis=1) > 100)
    assert full_rows.size == 1
    # one row of title above, 20 of plot: the middle lies at dot 4 + 40
    assert abs(int(full_rows[0]) - 44) <= 1


def test_every_test_is_seen_even_far_out() -> None:
    """The axis reaches to the farthest result."""
    wild = replace(clay(), tests=np.where(np.arange(12) == 6, 9.9, clay().tests))
    frame = band_cells(wild, width=80, height=16, zone=ZONE)
    marks = [row for row, cells in enumerate(frame.cells()) for cell in cells if cell.role == "event"]
    assert min(marks) <= 3
    assert len(marks) == 12 + len("◆ now")


def test_too_small_or_nothing_says_so() -> None:
    """One line."""
    assert "needs 36x7" in band_cells(clay(), width=30, height=16, zone=ZONE).text()
    none = BandPicture(hours(0), np.zeros(0), np.zeros(0), np.zeros(0), START)
    assert band_cells(none, width=80, height=16, zone=ZONE).text().strip() == "nothing to draw yet"
