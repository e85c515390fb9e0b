"""The figures behind a chart, section by section, and the way to limits from the latest quiet stretch."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from sandlab.errors import SandlabError
from sandlab.lab.facts import FiguresFacts
from sandlab.screens.base import station, styled
from sandlab.screens.modals import Panel

if TYPE_CHECKING:
    from sandlab.lab.figures import Behind
    from sandlab.lab.opening import Lab
    from sandlab.screens.desk import Work

WIDEST = 108


class Figures(Panel[bool]):
    """Computes when it opens; returns whether limits from the quiet stretch are wanted."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,enter", "leave", "Back"),
        Binding("down", "scroll(1)", "More"),
        Binding("up", "scroll(-1)", "Back up", show=False),
        Binding("pagedown", "page(1)", "Page", show=False),
        Binding("pageup", "page(-1)", "Page back", show=False),
        Binding("f6", "freeze", "Limits from the latest quiet stretch"),
    ]

    def __init__(self, property: str, label: str) -> None:
        super().__init__()
        self.property = property
        self.label = label
        self.facts: FiguresFacts | None = None
        self.work: Work | None = None
        self.top = 0

    def heading(self) -> str:
        """Of which chart."""
        return f"Figures behind {self.label}"

    def content(self) -> ComposeResult:
        """One text, scrolled with the arrows."""
        yield Static("working it out", id="figures-text")

    def on_mount(self) -> None:
        """Read the records, then compute beside the lab's thread, so that saving never waits for it."""
        name = self.property

        def read(lab: Lab) -> Behind:
            from sandlab.lab.figures import gathered

            return gathered(lab, name)

        self.set_interval(0.25, self.show_progress)
        station(self).desk.ask(self, read, self.compute, failed=station(self).trouble)

    def compute(self, behind: Behind) -> None:
        """Work the figures out; leaving ends it."""
        from sandlab.lab.figures import figures_of

        here = station(self)
        # Asked for by the terminal, because the panel may be gone when it is told that the work was ended.
        self.work = here.desk.beside(
            here, lambda step: figures_of(behind, step=step), self.know, failed=self.refused
        )

    def refused(self, error: SandlabError) -> None:
        """Say what went wrong; that somebody left is no trouble."""
        if self.work is None or not self.work.ended:
            station(self).trouble(error)

    def show_progress(self) -> None:
        """How far the work is."""
        if self.facts is None:
            share = 100.0 * self.work.share if self.work else 0.0
            self.query_one("#figures-text", Static).update(f"working it out: {share:.0f} %; Esc leaves")

    def know(self, facts: FiguresFacts) -> None:
        """Show the facts, unless nobody waits for them any more."""
        if self.is_attached:
            self.facts = facts
            self.show()

    def room(self) -> int:
        """Lines that fit."""
        return max(3, self.size.height - 6)

    def lines(self) -> list[Content]:
        """Every section as lines of the panel's width."""
        if self.facts is None:
            return []
        width = max(40, min(WIDEST, self.size.width) - 5)
        found: list[Content] = []
        for section in self.facts.sections:
            found.append(styled((section.title, "bold")))
            for line in section.lines:
                found += [styled(f" {part}") for part in wrap(line, width) or [""]]
        return found

    def show(self) -> None:
        """Write the lines in view."""
        if self.facts is None:
            return
        lines, room = self.lines(), self.room()
        self.top = max(0, min(self.top, len(lines) - room))
        shown = lines[self.top : self.top + room]
        left = len(lines) - self.top - room
        if left > 0:
            shown[-1] = styled((f" Down, PgDn: {left + 1} more lines", "$muted"))
        self.query_one("#figures-text", Static).update(Content("\n").join(shown))

    def on_resize(self) -> None:
        """Fit the lines."""
        self.show()

    def action_scroll(self, by: int) -> None:
        """More lines."""
        self.top += by
        self.show()

    def action_page(self, by: int) -> None:
        """A page of lines."""
        self.action_scroll(by * (self.room() - 2))

    def action_leave(self) -> None:
        """Back to the chart; work under way ends at its next step."""
        if self.work is not None:
            self.work.end()
        self.dismiss(False)

    def action_freeze(self) -> None:
        """Limits from the latest quiet stretch."""
        self.dismiss(True)
