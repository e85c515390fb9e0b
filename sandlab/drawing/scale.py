"""The little scale beside an entry field: the typed value between target, tolerance and reaction limits.

It is drawn at every key and on the first screen, and therefore without arrays.
"""

from __future__ import annotations

from itertools import groupby

from sandlab.drawing.glyphs import GlyphSet
from sandlab.drawing.states import state

_TRACK: dict[GlyphSet, tuple[str, str, str, str, str, str, str, str]] = {
    "full": ("─", "━", "┣", "┫", "╋", "║", "◄", "►"),
    "console": ("─", "=", "[", "]", "┼", "│", "◀", "▶"),
    "ascii": ("-", "=", "[", "]", "+", "|", "<", ">"),
}
"""Track outside and inside the tolerance, its ends, target, reaction limit, off the scale low and high."""


def entry_scale(
    value: float | None,
    *,
    width: int,
    target: float | None = None,
    tolerance_low: float | None = None,
    tolerance_high: float | None = None,
    reaction_low: float | None = None,
    reaction_high: float | None = None,
    glyphs: GlyphSet = "full",
) -> tuple[tuple[str, str], ...]:
    """One row as texts and roles, blank when nothing is known; the value has the mark of its judgement."""
    row = [(" ", "blank")] * width
    track, inside, left, right, middle, reaction, under, over = _TRACK[glyphs]
    known = [v for v in (target, tolerance_low, tolerance_high, reaction_low, reaction_high) if v is not None]
    if not known or width < 3:
        return _runs(row)
    low, high = _ends(known)

    def column(level: float) -> int:
        return round((min(max(level, low), high) - low) / (high - low) * (width - 1))

    row = [(track, "axis")] * width
    if tolerance_low is not None or tolerance_high is not None:
        first = 0 if tolerance_low is None else column(tolerance_low)
        last = width - 1 if tolerance_high is None else column(tolerance_high)
        row[first : last + 1] = [(inside, "tolerance")] * (last - first + 1)
    for level, char, role in (
        (reaction_low, reaction, "reaction"),
        (reaction_high, reaction, "reaction"),
        (tolerance_low, left, "tolerance"),
        (tolerance_high, right, "tolerance"),
        (target, middle, "centre"),
    ):
        if level is not None:
            row[column(level)] = char, role
    if value is not None:
        key = "past_reaction_limit"
        if _within(value, reaction_low, reaction_high):
            key = "in_tolerance" if _within(value, tolerance_low, tolerance_high) else "outside_tolerance"
        mark = under if value < low else over if value > high else state(key).glyph(glyphs)
        row[column(value)] = mark, state(key).role
    return _runs(row)


def _runs(row: list[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Neighbouring cells of one role together."""
    return tuple(
        ("".join(char for char, _ in cells), role) for role, cells in groupby(row, key=lambda cell: cell[1])
    )


def _ends(known: list[float]) -> tuple[float, float]:
    low, high = min(known), max(known)
    pad = (high - low) * 0.15 if high > low else max(abs(low) * 0.1, 1.0)
    return low - pad, high + pad


def _within(value: float, low: float | None, high: float | None) -> bool:
    return (low is None or value >= low) and (high is None or value <= high)
