"""What stands in the cells of a chart, whatever its size and glyph set."""

from __future__ import annotations

import unicodedata
from dataclasses import replace

import numpy as np
import pytest

from sandlab.drawing import GLYPH_SETS, ROLES, ChartPicture, Flag, Frame, GlyphSet, chart_cells
from sandlab.drawing.envelope import columns_of, envelope
from sandlab.drawing.glyphs import CONSOLE_GLYPHS
from tests.drawing.samples import HOUR, START, ZONE, compactability, dots, hours, ten_years, wave

SIZES = [(60, 12), (80, 20), (120, 36), (200, 60)]


def draw(picture: ChartPicture, glyphs: GlyphSet = "full", width: int = 80, height: int = 20) -> Frame:
    """The picture in Berlin time."""
    return chart_cells(picture, width=width, height=height, zone=ZONE, glyphs=glyphs)


def roles_of(frame: Frame, char: str) -> set[str]:
    """The roles under which a character stands in a frame."""
    return {cell.role for row in frame.cells() for cell in row if cell.char == char}


@pytest.mark.parametrize("size", [*SIZES, (40, 8), (20, 3)])
@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_every_row_has_exactly_the_width(size: tuple[int, int], glyphs: GlyphSet) -> None:
    frame = draw(compactability(), glyphs, *size)
    assert (frame.width, frame.height) == size
    assert [len(line) for line in frame.lines()] == [size[0]] * size[1]
    wide = {char for line in frame.lines() for char in line if unicodedata.east_asian_width(char) in "WF"}
    assert not wide
    assert not any(unicodedata.combining(char) for line in frame.lines() for char in line)


@pytest.mark.parametrize("picture", [compactability(), ten_years()])
@pytest.mark.parametrize("size", SIZES)
def test_glyph_sets_keep_to_their_characters(picture: ChartPicture, size: tuple[int, int]) -> None:
    picture = replace(picture, cursor=30, events=compactability().events)
    assert draw(picture, "ascii", *size).text().isascii()
    console = set("".join(draw(picture, "console", *size).lines()))
    assert {char for char in console if not char.isascii()} <= set(CONSOLE_GLYPHS)


def test_runs_hold_the_same_text_and_roles_as_cells() -> None:
    frame = draw(compactability())
    assert tuple("".join(run.text for run in row) for row in frame.runs()) == frame.lines()
    spread = [[role for run in row for role in [run.role] * len(run.text)] for row in frame.runs()]
    assert spread == [[cell.role for cell in row] for row in frame.cells()]
    assert {run.role for row in frame.runs() for run in row} <= set(ROLES)


def test_too_small_a_space_says_so_in_one_line() -> None:
    assert draw(compactability(), "ascii", 39, 20).text().strip() == "chart needs 40x8 cells, has 39x20"
    assert draw(compactability(), "ascii", 80, 7).text().strip() == "chart needs 40x8 cells, has 80x7"


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_a_single_outlier_of_ninety_thousand_stands_out(glyphs: GlyphSet) -> None:
    picture = ten_years()
    without = replace(picture, values=np.where(picture.values > 44.5, 42.0, picture.values))
    limit_row = next(row for row, line in enumerate(draw(picture, glyphs).lines()) if "upper 44.5" in line)

    def marks_above(frame: Frame) -> int:
        return sum(cell.role == "data" for row in frame.cells()[1:limit_row] for cell in row)

    assert marks_above(draw(without, glyphs)) == 0
    assert marks_above(draw(picture, glyphs)) > 0


def test_the_envelope_holds_each_columns_lowest_and_highest() -> None:
    rng = np.random.default_rng(11)
    values = rng.normal(42.0, 1.0, 5_000)
    values[rng.random(5_000) < 0.2] = np.nan
    times = START + np.sort(rng.integers(0, 900 * HOUR, 5_000))
    picture = ChartPicture(times, values)
    data = envelope(picture, 237)
    columns = columns_of(times, picture.window(), 237)
    for column in range(237):
        inside = [value for value, at in zip(values, columns, strict=True) if at == column and value == value]
        assert data.low[column] == (
            pytest.approx(min(inside)) if inside else pytest.approx(np.nan, nan_ok=True)
        )
        assert data.high[column] == (
            pytest.approx(max(inside)) if inside else pytest.approx(np.nan, nan_ok=True)
        )


def test_dots_stand_where_the_values_are() -> None:
    values = np.array([40.0, 44.0, 42.0])
    frame = draw(ChartPicture(hours(3), values, lower=40.0, upper=44.0), width=80, height=23)
    drawn = dots(frame)
    rows, columns = np.nonzero(drawn)
    left, right = columns.min(), columns.max()
    first, last = rows[columns == left], rows[columns == right]
    # The plot has 20 rows of four dots from 44.2 to 39.8 (5 % beyond each limit), below the title row.
    assert round((44.2 - 40.0) / 4.4 * 79) + 4 in first
    assert round((44.2 - 42.0) / 4.4 * 79) + 4 in last
    assert round((44.2 - 44.0) / 4.4 * 79) + 4 == rows.min()


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_missing_tests_and_long_pauses_leave_a_gap(glyphs: GlyphSet) -> None:
    values = np.full(60, 42.0)
    values[20:30] = np.nan
    missing = ChartPicture(hours(60), values, lower=39.0, upper=45.0)
    paused = ChartPicture(np.delete(hours(60), range(20, 30)), np.full(50, 42.0), lower=39.0, upper=45.0)
    for picture in (missing, paused):
        held = np.array([[cell.role == "data" for cell in row] for row in draw(picture, glyphs).cells()])
        columns = np.flatnonzero(held.any(axis=0))
        gap = np.diff(columns).max() / (columns[-1] - columns[0])
        assert gap == pytest.approx(11 / 59, abs=0.03)


def test_two_missing_tests_break_the_line_only_there() -> None:
    values = np.full(60, 42.0)
    values[20:22] = np.nan
    line = dots(draw(ChartPicture(hours(60), values, lower=39.0, upper=45.0))).any(axis=0)
    assert (np.diff(np.flatnonzero(line)) > 1).sum() == 1


def test_alarms_watches_and_members_carry_their_marks_and_roles() -> None:
    frame = draw(compactability(), "ascii")
    assert roles_of(frame, "A") == {"alarm"}
    assert roles_of(frame, "V") == {"alarm"}
    assert "watch" in roles_of(frame, "^")
    members = [cell for row in frame.cells() for cell in row if cell.char == "o" and cell.role == "watch"]
    assert 3 <= len(members) <= 6


def test_flags_off_the_window_or_on_missing_tests_draw_nothing() -> None:
    plain = replace(compactability(), flags=())
    odd = replace(plain, flags=(Flag(20, 1, True), Flag(-5, 1, True), Flag(99, -1, True, (98,))))
    assert draw(odd).text() == draw(plain).text()


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_a_value_off_the_scale_is_written_at_the_edge(glyphs: GlyphSet) -> None:
    values = wave(60)
    values[30] = 97.2
    frame = draw(replace(compactability(), values=values, flags=()), glyphs)
    assert {"full": "↑", "console": "»", "ascii": ">"}[glyphs] + "97.2" in frame.lines()[1]


def test_the_cursor_reads_its_point() -> None:
    frame = draw(replace(compactability(), cursor=40))
    assert frame.lines()[0].endswith("5 Mar 2026 22:00  45.9")
    cursor = [[cell.role == "cursor" for cell in row] for row in frame.cells()]
    assert len({tuple(row) for row in cursor if any(row)}) == 1
    assert sum(any(row) for row in cursor) == 17
    assert draw(replace(compactability(), cursor=20)).lines()[0].endswith("not measured")


def test_words_of_lines_keep_the_order_of_their_values() -> None:
    for glyphs in GLYPH_SETS:
        lines = draw(compactability(), glyphs).lines()
        rows = {
            word: next(i for i, line in enumerate(lines) if word in line)
            for word in ("upper 45.0", "tolerance 44.5")
        }
        assert rows["upper 45.0"] < rows["tolerance 44.5"]


def test_no_tests_at_all_is_said_in_words() -> None:
    empty = ChartPicture(np.array([], dtype=np.int64), np.array([]), title="Moisture", lower=3.0, upper=3.6)
    assert "no tests in this time" in draw(empty, "ascii").text()
    assert "lower 3.0" in draw(empty, "ascii").text()
    assert "1970" not in draw(empty, "ascii").text()
    assert "Jan" not in draw(empty, "ascii").text()
