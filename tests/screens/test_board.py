"""The muller board at many sizes: digits as large as fit, arrows that point, nothing beyond the edge."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from sandlab.drawing import GLYPH_SETS, GlyphSet
from sandlab.lab.facts import AdditionFacts, MullerFacts
from sandlab.screens.board import additions, arrow_rows, board


def addition(label: str, text: str, change: float) -> AdditionFacts:
    """One material as the board gets it."""
    return AdditionFacts(
        feeder=label.lower(),
        material=label.lower(),
        label=f"{label}, Tarnfell, lot 7",
        kg=float(text),
        text=text,
        decimals=1,
        change_kg=change,
        change_text=f"{change:+.1f}",
        parts_kg={},
        binds="",
    )


ITEMS = [
    addition("Water", "27.0", 3.0),
    addition("Bentonite", "10.5", -0.5),
    addition("Coal dust", "10.5", 0.0),
    addition("New sand", "20", 0.0),
]


def drawn(width: int, height: int, glyphs: GlyphSet) -> list[str]:
    """The kilograms as plain text."""
    lines = additions(ITEMS, width=width, height=height, glyphs=glyphs)
    return ["".join(part if isinstance(part, str) else part[0] for part in line) for line in lines]


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
@pytest.mark.parametrize(
    ("width", "height", "digits"), [(80, 12, 5), (120, 26, 10), (160, 36, 14), (220, 48, 20)]
)
def test_digits_grow_with_the_screen(width: int, height: int, digits: int, glyphs: GlyphSet) -> None:
    """The heights are what is left for the kilograms at 80x24, 120x40, 160x50 and 220x60."""
    lines = drawn(width, height, glyphs)
    below = next(place for place, line in enumerate(lines) if "Coal dust" in line)
    rows = [line for line in lines[1:below] if line.strip()]
    assert len(rows) == digits


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
@pytest.mark.parametrize("width", [80, 93, 100, 119, 120, 141, 160, 199, 240])
@pytest.mark.parametrize("height", [9, 12, 17, 26, 36, 60])
def test_nothing_runs_over_the_edge(width: int, height: int, glyphs: GlyphSet) -> None:
    lines = drawn(width, height, glyphs)
    assert len(lines) <= height
    assert max(map(len, lines)) <= width
    assert all(line[width // 2 : width // 2 + 1] in (" ", "") for line in lines)


@pytest.mark.parametrize(("size", "width"), [(5, 5), (7, 5), (7, 9), (10, 13), (14, 17), (20, 17)])
def test_an_arrow_has_a_head_and_a_stem(size: int, width: int) -> None:
    """It widens row by row to its full width, then a stem follows; turned over it points down."""
    up = arrow_rows(1.0, size, width, "full")
    ink = [row.count("█") for row in up]
    head = ink.index(width) + 1
    assert len(up) == size and {len(row) for row in up} == {width}
    assert 3 <= head < size and ink[:head] == sorted(set(ink[:head]))
    assert len(set(ink[head:])) == 1 and ink[-1] < width / 2
    assert arrow_rows(-1.0, size, width, "full") == up[::-1]


@pytest.mark.parametrize("height", [20, 21, 22, 34])
def test_digits_go_before_words_that_can_wait(height: int) -> None:
    """With a timer's line above or a notice below, why it says HOLD stays, and the kilograms stay large."""
    now = datetime(2026, 3, 4, 13, tzinfo=UTC)
    reason = "Active clay 5.90 % is below the reaction limit 6.50 %. Repeat the titration"
    facts = MullerFacts(
        now=now,
        system="main",
        state="hold",
        word="HOLD",
        sentence=reason,
        reasons=(reason, "Hourly set 35 min late"),
        call="Foundry engineer on call 4417",
        release="1",
        released_at=now,
        released_by="JV",
        acknowledged_at=now,
        acknowledged_by="AK",
        overridden_by="AK",
        override_reason="new lot is dry",
        additions=tuple(ITEMS),
        last_test_at=now,
        next_test_words="next test 14:00",
        advice_note="Advice to a trained person, who decides under the site's rules: check it.",
    )
    lines = [
        "".join(part if isinstance(part, str) else part[0] for part in line)
        for line in board(facts, "since 13:00", width=80, height=height, glyphs="full")
    ]
    assert len(lines) <= height
    assert sum("█" in line for line in lines[6:]) >= 8, "the kilograms are not in plain text"
    assert any(reason in line for line in lines)
    assert any("Advice to a trained person" in line for line in lines)
