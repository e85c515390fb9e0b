"""What the first screen points to, in at most three lines above the form."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets import Static

from sandlab.screens.base import Part, key_name, state_parts, station, styled

if TYPE_CHECKING:
    from sandlab.lab.facts import AttentionFacts, DueFacts
    from sandlab.lab.opening import Lab
    from sandlab.screens.tests_screen import TestsScreen

KEY = "ctrl+g"
FIRST = (
    "Nothing is recorded yet. First F5: your initials. Then type the first set below, Enter\n"
    "after each value; a blank one was not measured. What belongs to your plant: sandlab check."
)


def fetch(lab: Lab) -> AttentionFacts:
    """What calls for a person now."""
    from sandlab.lab.attention import attention

    return attention(lab)


def nothing_yet(due: DueFacts) -> bool:
    """Whether no scheduled property has ever been tested."""
    return all(field.last_at is None for one in due.sets for field in one.fields)


def lines(screen: TestsScreen, facts: AttentionFacts | None) -> Content:
    """A line per thing that calls, the gravest first."""
    if screen.due is not None and nothing_yet(screen.due):
        return Content(FIRST)
    if facts is None:
        return Content("")
    parts: list[Part | str] = []
    if facts.chart_words:
        more = f"; {facts.charts - 1} more" if facts.charts > 1 else ""
        mark = state_parts("signal", station(screen).glyphs)
        parts += [mark, f" {facts.chart_words}. F3 shows it{more}.", "\n"]
    name = key_name(KEY)
    if facts.open_steps:
        more = f" and {facts.open_steps - 1} more" if facts.open_steps > 1 else ""
        parts += [(f"To do: {facts.next_step}{more}. {name}", "bold $watch"), "\n"]
    if facts.unread:
        count = f"{facts.unread} note{'s' if facts.unread > 1 else ''}"
        parts += [(f"{count} of the shift before, not read yet. {name}", "bold $watch"), "\n"]
    return styled(*parts).rstrip()


class News:
    """What was found last, and the lines that say it."""

    def __init__(self, screen: TestsScreen) -> None:
        self.screen = screen
        self.facts: AttentionFacts | None = None
        self.wanted = True

    def attend(self) -> None:
        """Write the lines, and look anew when something was saved; until the rest is loaded, only write."""
        self.show()
        if station(self.screen).warm and self.wanted:
            self.wanted = False
            station(self.screen).desk.ask(self.screen, fetch, self.know, failed=self.screen.unread)

    def know(self, facts: AttentionFacts) -> None:
        """Take what calls now."""
        self.facts = facts
        self.show()

    def show(self) -> None:
        """Write the lines, or take them away."""
        words = lines(self.screen, self.facts)
        found = self.screen.query("#news")
        if not found and not words:
            return
        strip = found.first(Static) if found else Static(id="news")
        if not found:
            self.screen.mount(strip, before="#heading")
        strip.update(words)
        strip.display = bool(words)

    def open_shift(self) -> None:
        """Notes handed over, and steps to be taken."""
        from sandlab.screens.shift import Shift

        self.screen.app.push_screen(Shift(), lambda _: self.screen.reload())

    def new_person(self) -> None:
        """Somebody else is here: what was handed over comes first."""
        if self.screen.is_current and self.facts is not None and self.facts.unread:
            self.open_shift()
