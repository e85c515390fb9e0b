"""After saving: one sentence per consequence, and the next thing to do."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from sandlab.lab.advising import change_words
from sandlab.lab.consequences import NOTHING
from sandlab.lab.facts import SavedFacts
from sandlab.lab.showing import clock_text
from sandlab.labels import inside
from sandlab.screens.ahead import is_digit
from sandlab.screens.base import Part, state_parts, station, styled
from sandlab.screens.desk import Work
from sandlab.screens.modals import ReadFirst

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab

WIDTH = 70
"""Characters on a line of the box."""

OTHER_ROWS = 10
"""Rows of the box for its frame, title, keys, what changes in the additions, and the next thing to do."""


class Saved(ReadFirst[bool | None]):
    """Returns whether new additions are wanted now, None to stay where one is."""

    HEADING = "Saved"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "go_on", "Go on"),
        Binding("escape", "leave", "Stay", show=False),
        Binding("f7,plus,add", "additions", "Work out additions"),
    ]

    def __init__(self, facts: SavedFacts, *, change: str = "") -> None:
        super().__init__()
        self.facts = facts
        self.change = change
        self.work = Work()

    def heading(self) -> str:
        """What was done, when and by whom."""
        sample = self.facts.sample
        here = station(self)
        taken = f"sample of {clock_text(sample.taken_at, here.zone, here.now())}"
        if self.change:
            return f"{self.change} by {here.technician}: {taken}, logged by {sample.by}"
        return f"Saved: {taken}, by {sample.by}"

    def content(self) -> ComposeResult:
        """Consequences and next step first, then the values that still fit."""
        rows = self.app.size.height - OTHER_ROWS
        sentences = fitting([f"- {words}" for words in self.facts.consequences], rows)
        yield Static("\n".join(sentences), classes="words")
        yield Static("", id="saved-change")
        yield Static(styled((self.facts.next, "bold")), classes="words")
        yield Static(styled(*self.values(rows - rows_of(sentences))), id="saved-values")

    def on_mount(self) -> None:
        """What it changes in the additions takes longer to compute, and follows."""
        self.query_one("#saved-change", Static).display = False
        if station(self).warm:
            station(self).desk.ask(self, self.fetch_change, self.tell_change, failed=lambda _: None)

    def fetch_change(self, lab: Lab) -> str:
        """In the lab's thread: what changes in the additions."""
        return change_words(lab, self.work)

    def on_unmount(self) -> None:
        """Nobody reads it any more: the next save must not wait for it."""
        self.work.end()

    def tell_change(self, words: str) -> None:
        """One sentence more."""
        line = self.query_one("#saved-change", Static)
        line.update(f"- {words}\n" if words else "")
        line.display = bool(words) and not self.query("#panel-aside")

    def tell_aside(self) -> None:
        """Keys that wait are told where the additions would be: the next step stays in view."""
        super().tell_aside()
        if self.query("#panel-aside"):
            self.query_one("#saved-change", Static).display = False

    def values(self, rows: int) -> list[Part | str]:
        """A line per value that needs attention; the others side by side, where there is room."""
        glyphs = station(self).glyphs
        results = self.facts.sample.results
        parts: list[Part | str] = []
        for result in [one for one in results if one.state != "in_tolerance"][: max(0, rows)]:
            words = f"{result.label:<30}{result.text:>8} {result.unit:<7}"
            parts += [words, state_parts(result.state, glyphs), "\n"]
            rows -= 1
        quiet = [one for one in results if one.state == "in_tolerance"]
        words = ", ".join(f"{inside(one.label)} {one.text} {one.unit}".rstrip() for one in quiet)
        mark = state_parts("in_tolerance", glyphs)
        if quiet and rows_of([f"{mark[0]} {words}"]) <= rows:
            parts += [mark, (f" {words}", "$muted")]
        return parts

    def passes(self, event: events.Key) -> bool:
        """When nothing calls for action, a digit is the next sample's: it goes to the form."""
        quiet = self.facts.consequences == (NOTHING,)
        early_enter = event.time < self.ready_at and station(self).aside
        if not is_digit(event) or not quiet or early_enter or self.values_wait():
            return False
        self.dismiss(None)
        return True

    def action_go_on(self) -> None:
        """To what is due next."""
        self.dismiss(False)

    def action_additions(self) -> None:
        """On to the additions."""
        self.dismiss(True)


def rows_of(sentences: Sequence[str], width: int = WIDTH) -> int:
    """Lines that sentences take."""
    return sum(len(wrap(one, max(1, width), break_on_hyphens=False)) for one in sentences)


def fitting(sentences: Sequence[str], rows: int) -> list[str]:
    """The first sentences, as many as there is room for; those left out are counted."""
    kept = list(sentences)
    while len(kept) > 1 and rows_of(kept) + (len(kept) < len(sentences)) > rows:
        kept.pop()
    left = len(sentences) - len(kept)
    return [*kept, f"- and {left} more: F3 shows them on the charts"] if left else kept
