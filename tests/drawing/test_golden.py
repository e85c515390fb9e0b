"""Whole pictures as plain text; set REWRITE_GOLDEN=1 to write them anew, then read them before committing."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from sandlab.drawing import GLYPH_SETS, GlyphSet, block_number, chart_cells, entry_scale, sparkline
from tests.drawing.samples import ZONE, compactability, ten_years

FOLDER = Path(__file__).parent / "golden"


def compare(name: str, text: str) -> None:
    """Hold a picture against its file."""
    path = FOLDER / f"{name}.txt"
    if os.environ.get("REWRITE_GOLDEN"):
        path.write_text(text + "\n", encoding="utf-8")
    assert text.splitlines() == path.read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_the_chart_of_a_shift(glyphs: GlyphSet) -> None:
    frame = chart_cells(compactability(), width=80, height=20, zone=ZONE, glyphs=glyphs)
    compare(f"chart_{glyphs}", frame.text())


def test_the_smallest_useful_chart_with_a_cursor() -> None:
    picture = replace(compactability(), cursor=40, decimal_mark=",")
    compare("chart_small", chart_cells(picture, width=60, height=12, zone=ZONE, glyphs="ascii").text())


def test_ten_years_on_a_console() -> None:
    compare(
        "chart_ten_years", chart_cells(ten_years(), width=80, height=16, zone=ZONE, glyphs="console").text()
    )


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_the_small_pictures(glyphs: GlyphSet) -> None:
    picture = compactability()
    rows = [sparkline(picture.values, 40, glyphs, lower=39.0, upper=45.0).text()]
    for value in (None, 41.8, 44.8, 46.9, 60.0):
        scale = entry_scale(
            value,
            width=30,
            target=42.0,
            tolerance_low=39.5,
            tolerance_high=44.5,
            reaction_low=37.0,
            reaction_high=47.0,
            glyphs=glyphs,
        )
        rows.append("".join(text for text, _ in scale))
    compare(f"small_{glyphs}", "\n".join(rows))


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_the_block_digits(glyphs: GlyphSet) -> None:
    texts = (
        ("01234", 5),
        ("56789", 5),
        ("+2.5", 7),
        ("-1,0", 7),
        ("RUN", 5),
        ("CHECK", 5),
        ("HOLD", 5),
        ("27.0", 10),
        ("38", 14),
        ("1,5", 20),
    )
    blocks = ["\n".join(row.rstrip() for row in block_number(text, height, glyphs)) for text, height in texts]
    compare(f"digits_{glyphs}", "\n\n".join(blocks))
