"""What the first screen points to, in at most three lines above the form."""

from __future__ import annotations

import re
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
    "Nothing is recorded yet. First press F5 and type your initials.\n"
    "Then type the first set below, Enter after each value; blank: not measured."
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
    name = key_name(KEY)
    rows: list[list[Part | str]] = []
    if facts.chart_words:
        # Where it may have begun is told on the chart; here the line has to fit.
        words = re.sub(r" \([^)]*\)", "", facts.chart_words)
        more = f"; {facts.charts - 1} more" if facts.charts > 1 else ""
        mark = state_parts(facts.chart_state, station(screen).glyphs)
        room = screen.size.width - len(f"F3{mark[0]} {more}") - 2
        words = words if len(words) <= room else f"{words[: room - 1]}~"
        rows.append([("F3", "bold $bar"), mark, f" {words}{more}"])
    if facts.open_steps:
        count = f"{facts.open_steps} step{'s' if facts.open_steps > 1 else ''}"
        rows.append([(name, "bold $bar"), (f" {count} to do, {facts.next_step}", "bold $watch")])
    if facts.unread:
        count = f"{facts.unread} note{'s' if facts.unread > 1 else ''}"
        rows.append([(name, "bold $bar"), (f" {count} handed over, not read yet", "bold $watch")])
    return Content("\n").join(styled(*row) for row in rows)


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
            station(self.screen).desk.ask_later(self.screen, fetch, self.know, failed=self.screen.unread)

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
            strip.display = False
            self.screen.mount(strip, before="#heading")
        strip.update(words)
        if strip.display != bool(words):
            strip.display = bool(words)
            self.screen.call_after_refresh(self.screen.show_due)

    def open_shift(self) -> None:
        """Notes handed over, and steps to be taken."""
        from sandlab.screens.shift import Shift

        self.screen.app.push_screen(Shift(), lambda _: self.screen.reload())

    def new_person(self) -> None:
        """Somebody else is here: what was handed over comes first."""
        if self.screen.is_current and self.facts is not None and self.facts.unread:
            self.open_shift()
