"""Charts on one time line, what is expected next, tests left out, small charts of a wall, scatters."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from sandlab.drawing import (
    GLYPH_SETS,
    Axis,
    Band,
    ChartPicture,
    GlyphSet,
    Outlook,
    ScatterPicture,
    chart_cells,
    chart_svg,
    scatter_cells,
    scatter_svg,
    stacked_cells,
    stacked_svg,
    tile_cells,
)
from sandlab.drawing.glyphs import CONSOLE_GLYPHS, MARKS
from tests.drawing.samples import HOUR, ZONE, compactability, dots, hours, tile, wave
from tests.drawing.test_golden import compare


def moisture() -> ChartPicture:
    """Every second hour, over the same time."""
    times = hours(60)[::2]
    values = np.round(3.3 + 0.02 * (wave(60)[::2] - 42.0), 2)
    return ChartPicture(
        times, values, title="Moisture", unit="%", decimals=2, centre=3.3, lower=3.25, upper=3.35
    )


def expected() -> ChartPicture:
    """The compactability with what comes after it in view."""
    picture = compactability()
    ahead = picture.times[-1] + np.arange(13) * HOUR
    level = np.linspace(42.0, 42.6, 13)
    return replace(
        picture,
        outlook=Outlook(ahead, level, level - 1.5, level + 1.5),
        end=int(picture.times[-1]) + 8 * HOUR,
        excluded=(40,),
    )


def scatter() -> ScatterPicture:
    """Forty pairs along a line with two outside its band."""
    x = np.round(42.0 + 3.0 * np.sin(np.arange(40) * 1.3), 1)
    y = np.round(3.3 + 0.05 * (x - 42.0) + 0.03 * np.cos(np.arange(40) * 2.1), 2)
    y[35], y[38] = 3.6, 3.1
    outside = np.zeros(40, dtype=np.int8)
    outside[35], outside[38] = 1, -1
    along = np.linspace(39.0, 45.0, 9)
    level = 3.3 + 0.05 * (along - 42.0)
    band = Band(along, level, level - 0.08, level + 0.08)
    return ScatterPicture(
        Axis("Compactability", "%", 0), Axis("Moisture", "%", 2), x, y, later=30, outside=outside, band=band
    )


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_two_charts_share_one_time_line(glyphs: GlyphSet) -> None:
    """The same columns mean the same time, dates stand once, the cursor goes through both."""
    pictures = (replace(compactability(), cursor=40), moisture())
    frame = stacked_cells(pictures, width=80, height=30, zone=ZONE, glyphs=glyphs)
    compare(f"stack_{glyphs}", frame.text())
    columns = [
        [column for column, cell in enumerate(row) if cell.role == "cursor"] for row in frame.cells()[1:-2]
    ]
    assert len({column for row in columns for column in row}) == 1
    assert sum(bool(row) for row in columns) >= 20


def test_a_stack_needs_room_for_each_chart() -> None:
    frame = stacked_cells((compactability(), moisture()), width=80, height=15, zone=ZONE)
    assert frame.text().strip() == "chart needs 40x16 cells, has 80x15"


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_what_is_expected_and_what_is_left_out(glyphs: GlyphSet) -> None:
    frame = chart_cells(expected(), width=80, height=20, zone=ZONE, glyphs=glyphs)
    compare(f"outlook_{glyphs}", frame.text())
    ahead = [
        (row, column)
        for row, cells in enumerate(frame.cells())
        for column, cell in enumerate(cells)
        if cell.role == "outlook"
    ]
    last = max(column for row in frame.cells() for column, cell in enumerate(row) if cell.role == "data")
    assert min(column for _, column in ahead) >= last - 1
    crossed = [cell for row in frame.cells() for cell in row if cell.char == MARKS[glyphs].excluded]
    assert any(cell.role == "muted" for cell in crossed)


def test_the_band_is_as_high_as_it_says() -> None:
    """Three percent of a scale that the braille dots tell apart to the twentieth."""
    grid = dots(chart_cells(expected(), width=120, height=36, zone=ZONE), "outlook")
    heights = [int(np.ptp(np.flatnonzero(column))) for column in grid.T if column.any()]
    per_dot = (47.5 - 36.5) / (33 * 4)
    assert max(heights) * per_dot == pytest.approx(3.0, abs=0.2)


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_a_small_chart_says_its_state_in_words(glyphs: GlyphSet) -> None:
    frames = [
        tile_cells(tile(), width=39, height=6, glyphs=glyphs, chosen=True),
        tile_cells(replace(tile(), values=np.full(3, np.nan), state="too_few", words="", age=""), width=39,
                   height=5, glyphs=glyphs),
    ]  # fmt: skip
    compare(f"tile_{glyphs}", "\n".join(frame.text() for frame in frames))
    assert frames[0].width == 39
    shown = "".join(frames[0].lines())
    allowed = "" if glyphs == "ascii" else CONSOLE_GLYPHS
    if glyphs != "full":
        assert not {char for char in shown if not char.isascii()} - set(allowed)


def test_a_tile_keeps_every_test_beyond_a_limit() -> None:
    """A wild value among quiet ones is a triangle, however narrow the tile."""
    values = np.full(40, 42.0)
    values[17] = 47.0
    for width in (20, 39, 80):
        frame = tile_cells(replace(tile(), values=values), width=width, height=5)
        marks = [cell for row in frame.cells()[1:-1] for cell in row if cell.char == "▲"]
        assert [cell.role for cell in marks] == ["alarm"]


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_two_properties_against_each_other(glyphs: GlyphSet) -> None:
    frame = scatter_cells(replace(scatter(), cursor=38), width=80, height=20, glyphs=glyphs)
    compare(f"scatter_{glyphs}", frame.text())
    alarms = {cell.char for row in frame.cells() for cell in row if cell.role == "alarm"}
    assert MARKS[glyphs].alarm_high in alarms
    assert len(frame.text().splitlines()) == 20


def test_the_expected_line_shows_through_a_cloud_of_dots() -> None:
    """In every column of the line a cell keeps its colour, though dots lie in the same cells."""
    x = np.repeat(np.linspace(39.0, 45.0, 300), 3)
    y = 3.3 + 0.05 * (x - 42.0) + np.tile([-0.01, 0.0, 0.01], 300)
    cloud = replace(scatter(), x=x, y=y, later=x.size, outside=np.zeros(x.size, dtype=np.int8))
    rows = scatter_cells(cloud, width=80, height=20).cells()
    columns = {at for row in rows for at, cell in enumerate(row) if cell.role == "centre"}
    assert len(columns) == max(columns) - min(columns) + 1 > 40
    assert any(cell.role == "muted" for row in rows for cell in row)


def test_a_scatter_too_small_says_so() -> None:
    assert "needs 40x8" in scatter_cells(scatter(), width=30, height=20).text()


def test_everything_is_drawn_as_svg_too() -> None:
    """Well-formed, no outside reference, the same numbers of marks."""
    stack = stacked_svg((expected(), moisture()), zone=ZONE)
    inner = ElementTree.fromstring(stack).findall("{http://www.w3.org/2000/svg}svg")
    assert [one.get("y") for one in inner] == ["0", "300"]
    single = chart_svg(expected(), zone=ZONE)
    assert 'stroke-dasharray="6 3"' in single
    cross = scatter_svg(scatter())
    assert cross.count("<circle") == 38
    assert cross.count('z" fill="#8b1a1a"') == 2
    for text in (stack, cross):
        assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
