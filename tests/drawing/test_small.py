"""Sparklines, entry scales and block digits."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from sandlab.drawing import GLYPH_SETS, GlyphSet, block_height, block_number, entry_scale, sparkline
from sandlab.drawing.digits import BLOCK_CHARACTERS
from sandlab.drawing.glyphs import CONSOLE_GLYPHS
from tests.drawing.samples import wave


def text_of(runs: tuple[tuple[str, str], ...]) -> str:
    """A row as plain text."""
    return "".join(text for text, _ in runs)


def test_a_sparkline_hangs_between_the_limits() -> None:
    values = np.array([40.0, 44.9, np.nan, 45.1, 39.9])
    assert sparkline(values, 6, lower=40.0, upper=45.0).text() == " ▁█ ▲▼"
    assert sparkline(values, 6, "console", lower=40.0, upper=45.0).text() == " _^ ▲▼"
    assert sparkline(values, 6, "ascii", lower=40.0, upper=45.0).text() == " _^ AV"


def test_a_sparkline_without_limits_spans_its_values() -> None:
    assert sparkline(np.array([1.0, 3.0]), 2).text() == "▁█"
    assert sparkline(np.array([2.0, 2.0]), 2).text() == "▅▅"
    assert sparkline(np.array([np.nan]), 2).text() == ""
    assert sparkline(np.array([]), 2).lines() == ("  ",)


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_a_crowded_sparkline_keeps_its_outlier(glyphs: GlyphSet) -> None:
    values = wave(90_000)
    values[45_000] = 46.0
    frame = sparkline(values, 30, glyphs, lower=39.0, upper=45.0)
    assert [cell.role for cell in frame.cells()[0]].count("alarm") == 1


SCALE = {
    "target": 42.0,
    "tolerance_low": 40.0,
    "tolerance_high": 44.0,
    "reaction_low": 38.0,
    "reaction_high": 46.0,
}


@pytest.mark.parametrize(
    ("value", "row", "role"),
    [
        (None, "---|---[====+====]---|---", ""),
        (41.0, "---|---[==o=+====]---|---", "good"),
        (44.0, "---|---[====+====o---|---", "good"),
        (45.0, "---|---[====+====]-!-|---", "watch"),
        (46.5, "---|---[====+====]---|#--", "alarm"),
        (37.5, "--#|---[====+====]---|---", "alarm"),
        (99.0, "---|---[====+====]---|-->", "alarm"),
        (1.0, "<--|---[====+====]---|---", "alarm"),
    ],
)
def test_the_entry_scale_shows_where_the_value_lies(value: float | None, row: str, role: str) -> None:
    runs = entry_scale(value, width=25, **SCALE, glyphs="ascii")
    assert text_of(runs) == row
    assert role == "" or role in [one for _, one in runs]


def test_the_entry_scale_takes_one_sided_tolerances_and_knows_when_it_knows_nothing() -> None:
    assert text_of(entry_scale(3.0, width=12, tolerance_high=3.6, glyphs="ascii")) == "==o===]-----"
    assert entry_scale(3.0, width=12) == ((" " * 12, "blank"),)


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
@pytest.mark.parametrize("height", [5, 7, 10, 14, 20])
def test_blocks_are_even_and_told_apart(glyphs: GlyphSet, height: int) -> None:
    blocks = {char: block_number(char, height, glyphs) for char in "0123456789.,-+"}
    for rows in blocks.values():
        assert len(rows) == height
        assert len({len(row) for row in rows}) == 1
    for one, other in combinations(blocks, 2):
        assert blocks[one] != blocks[other], f"{one} and {other} look alike"
    digits = {char: rows for char, rows in blocks.items() if char.isdigit()}
    assert len({len(rows[0]) for rows in digits.values()}) == 1
    for one, other in combinations(digits, 2):
        differing = sum(
            a != b for x, y in zip(digits[one], digits[other], strict=True) for a, b in zip(x, y, strict=True)
        )
        assert differing >= height // 4, f"{one} and {other} differ in {differing} cells only"


@pytest.mark.parametrize("height", [5, 7, 10, 14, 20])
def test_blocks_keep_to_their_glyph_set(height: int) -> None:
    assert "".join(block_number(BLOCK_CHARACTERS, height, "ascii")).isascii()
    assert set("".join(block_number(BLOCK_CHARACTERS, height, "console"))) <= {" ", *CONSOLE_GLYPHS}
    assert set("".join(block_number(BLOCK_CHARACTERS, height, "full"))) <= set(" █▀▄")


def test_the_words_of_the_muller_screen_can_be_set_in_blocks() -> None:
    for word in ("RUN", "CHECK", "HOLD"):
        tallest = {"RUN": 14, "CHECK": 10, "HOLD": 14}[word]
        assert block_height(word, width=80, height=24) == tallest
    assert block_number("2", 5, "ascii") == ("########", "      ##", "########", "##      ", "########")


def test_the_largest_fitting_height_is_chosen() -> None:
    assert block_height("24.5", width=80, height=24) == 14
    assert block_height("24.5", width=40, height=24) == 7
    assert block_height("24.5", width=34, height=24) == 5
    assert block_height("24.5", width=20, height=24) == 0
    assert block_height("24.5", width=80, height=4) == 0


def test_unknown_characters_and_heights_are_refused() -> None:
    with pytest.raises(ValueError, match="no block for x"):
        block_number("1x", 5)
    with pytest.raises(ValueError, match="no blocks of 6 rows"):
        block_number("1", 6)
