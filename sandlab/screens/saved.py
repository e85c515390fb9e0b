"""After saving: one sentence per consequence, and the next thing to do."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from sandlab.lab.advising import change_words
from sandlab.lab.facts import SavedFacts
from sandlab.screens.base import Part, state_parts, station, styled
from sandlab.screens.modals import Panel


class Saved(Panel[bool | None]):
    """Returns whether new additions are wanted now, None to stay where one is."""

    HEADING = "Saved"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "go_on", "Go on"),
        Binding("escape", "leave", "Stay", show=False),
        Binding("f7,plus,add", "additions", "Work out additions"),
    ]

    def __init__(self, facts: SavedFacts) -> None:
        super().__init__()
        self.facts = facts

    def heading(self) -> str:
        """When and by whom."""
        sample = self.facts.sample
        return f"Saved: sample of {sample.taken_at.astimezone(station(self).zone):%H:%M}, by {sample.by}"

    def content(self) -> ComposeResult:
        """Consequences and next step first, then the values, those in tolerance in few words."""
        consequences = "\n".join(f"- {words}" for words in self.facts.consequences)
        yield Static(consequences or "- nothing follows from it", classes="words")
        yield Static("", id="saved-change")
        yield Static(styled((self.facts.next, "bold")), classes="words")
        yield Static(styled(*self.values()), id="saved-values")

    def on_mount(self) -> None:
        """What it changes in the additions takes longer to compute, and follows."""
        self.query_one("#saved-change", Static).display = False
        if station(self).warm:
            station(self).desk.ask(self, change_words, self.tell_change, failed=lambda _: None)

    def tell_change(self, words: str) -> None:
        """One sentence more."""
        line = self.query_one("#saved-change", Static)
        line.update(f"- {words}\n" if words else "")
        line.display = bool(words)

    def values(self) -> list[Part | str]:
        """A line per value that needs attention; the others side by side."""
        glyphs = station(self).glyphs
        results = self.facts.sample.results
        parts: list[Part | str] = []
        for result in (one for one in results if one.state != "in_tolerance"):
            words = f"{result.label:<30}{result.text:>8} {result.unit:<7}"
            parts += [words, state_parts(result.state, glyphs), "\n"]
        quiet = [one for one in results if one.state == "in_tolerance"]
        if quiet:
            words = ", ".join(f"{one.label.lower()} {one.text} {one.unit}".rstrip() for one in quiet)
            parts += [state_parts("in_tolerance", glyphs), (f" {words}", "$muted")]
        return parts

    def action_go_on(self) -> None:
        """To what is due next."""
        self.dismiss(False)

    def action_additions(self) -> None:
        """On to the additions."""
        self.dismiss(True)
