"""The list of what is due, the most urgent first; the set in the form is marked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual.content import Content

from sandlab.screens.base import Part, state_parts, station, styled

if TYPE_CHECKING:
    from sandlab.lab.facts import DueSetFacts
    from sandlab.screens.tests_screen import TestsScreen


def due_lines(screen: TestsScreen, sets: Sequence[DueSetFacts]) -> Content:
    """A line per set, as many as there is room for, and always the one in the form."""
    crowded = any(one.display for one in screen.query("#news, #timers"))
    most = 5 if screen.size.height >= 36 else 1 if crowded else 3
    current = screen.forms.shown
    shown = {one.test_set for one in sets[:most]} | {current}
    lines: list[Part | str] = []
    for entry in [one for one in sets if one.test_set in shown]:
        here = ">" if entry.test_set == current else " "
        starts = entry is sets[0] and entry.state != "done" and entry.test_set != current
        lines += [here, state_parts(entry.state, station(screen).glyphs), f" {entry.words}"]
        lines.append("  F2 starts it\n" if starts else "\n")
    return styled(*lines).rstrip()
