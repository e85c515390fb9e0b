"""Texts in the cells of a table that name a property, a unit or a sampling point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sandlab.exchange.layout import plain
from sandlab.exchange.mapping import Column
from sandlab.exchange.proposing.heads import best_phrase
from sandlab.exchange.proposing.meaning import Meaning
from sandlab.exchange.proposing.tables import LEAST_LIKENESS
from sandlab.exchange.targets import Target
from sandlab.exchange.units import unit_in, units_like
from sandlab.specs import Specs

Asked = tuple[str, str]
_POINT_WORDS = {
    "return": ("return sand", "return belt", "return", "belt", "before muller", "altsand", "rückgutsand"),
    "muller": ("muller", "mixer", "mill", "discharge", "after muller", "mischer", "neusand fertig", "line"),
}


def long_columns(
    texts: Meaning, units: Meaning | None, known: Mapping[str, Target]
) -> tuple[dict[str, Column], list[Asked]]:
    """What the texts of a property column mean where they are not the catalogue's own names."""
    columns: dict[str, Column] = {}
    questions: list[Asked] = []
    for text in dict.fromkeys(texts.heading.cells):
        if plain(text) in known:
            continue
        likes = sorted(((best_phrase(text, one.words)[0], name) for name, one in known.items()), reverse=True)
        like, name = likes[0]
        if like < LEAST_LIKENESS or (len(likes) > 1 and likes[1][0] == like):
            questions.append((f"'{text}' names no property that is known", "add it to columns, with text"))
        elif name in columns:
            questions.append((f"'{text}' is a second name of {name}", "write one of the two in the file"))
        else:
            more: dict[str, Any] = {}
            named = unit_in(text)
            if units is None and named in units_like(known[name].unit) and named != known[name].unit:
                more["unit"] = named
            columns[name] = Column(text=text, **more)
    return columns, questions


def points_of(cells: Sequence[str], specs: Specs, system: str) -> tuple[dict[str, str], list[str]]:
    """Sampling points by the texts of a column that are not their own names, and texts like none of them."""
    points = specs.systems[system].points
    named: dict[str, str] = {}
    unknown: list[str] = []
    for text in dict.fromkeys(cells):
        if text in points:
            continue
        words = {
            key: (
                key.replace("_", " "),
                entry.label,
                *(word for part, also in _POINT_WORDS.items() if part in key for word in also),
            )
            for key, entry in points.items()
        }
        likes = sorted(((best_phrase(text, phrases)[0], key) for key, phrases in words.items()), reverse=True)
        if likes and likes[0][0] >= LEAST_LIKENESS and (len(likes) < 2 or likes[1][0] < likes[0][0]):
            named[text] = likes[0][1]
        else:
            unknown.append(text)
    return named, unknown
