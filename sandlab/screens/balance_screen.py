"""The engineer's balance: what goes round, what is in the sand, what is ahead, plant values, books."""

from __future__ import annotations

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container
from textual.timer import Timer
from textual.widgets import Static

from sandlab.errors import SandlabError
from sandlab.lab.asking import WhatIf
from sandlab.lab.balancing import balance
from sandlab.lab.bookkeeping import period_books
from sandlab.lab.facts import (
    BooksFacts,
    IdentificationFacts,
    SandBalanceFacts,
    SandForecastFacts,
)
from sandlab.lab.flowing import flow_picture
from sandlab.screens import balance_acts as acts
from sandlab.screens import balance_pages as pages
from sandlab.screens.balance_pages import BOOKS, FLOW, SAND, SCROLLED, VIEWS, WHAT_IF
from sandlab.screens.base import LabScreen, station
from sandlab.screens.desk import StoppedError, Work

WATCH_S = 0.2


class BalanceScreen(LabScreen):
    """Six views of one balance; on tall screens the flow and the sand stand together."""

    CSS_PATH = "balance.tcss"
    DECIDES = "You decide: does the sand go where we want it, and what do we change for the coming days?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "pagedown", "view(1)", "View", tooltip="Next view: flow, sand, additions, what if, values, books"
        ),
        Binding("pageup", "view(-1)", "View before", show=False),
        Binding(
            "down", "step(1)", "Down", show=False, tooltip="More lines, else the next quantity; Up: back"
        ),
        Binding("up", "step(-1)", "Up", show=False),
        Binding("right", "choose(1)", "Next", tooltip="Draw the next quantity; Left: the one before"),
        Binding("left", "choose(-1)", "Quantity before", show=False),
        Binding("f6", "ask", "What if", tooltip="What if: other jobs, other kilograms, for so many days"),
        Binding("f7", "fit", "Fit values", tooltip="Fit plant values to the last 25 days, with limits"),
        Binding("f8", "accept", "Accept", tooltip="Accept the plant values that were found, with a reason"),
        Binding("escape", "end", "Stop", show=False, tooltip="Stop what is being worked out"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.view = FLOW
        self.at = 0
        self.top = 0
        self.facts: SandBalanceFacts | None = None
        self.ahead: SandForecastFacts | None = None
        self.asked = WhatIf()
        self.fitted: IdentificationFacts | None = None
        self.books: BooksFacts | None = None
        self.trouble = ""
        self.work: Work | None = None
        self.doing = ""
        self.fetching = False
        self.refused = False
        self._watch: Timer | None = None

    def content(self) -> ComposeResult:
        """Sentence, names of the views, and a place for each kind of view."""
        yield Static("working it out", id="words")
        yield Static("", id="views")
        yield pages.Canvas(id="flow")
        with Container(id="sand"):
            yield pages.Canvas(id="course")
            yield pages.Place("", id="state")
        yield pages.Place("", id="page")

    def on_mount(self) -> None:
        """Progress is looked at while something is worked out."""
        self._watch = self.set_interval(WATCH_S, self.show_progress, pause=True)
        self.show()

    def reload(self) -> None:
        """The balance anew, unless it is being worked out already; the books follow when they are shown."""
        if not self.fetching:
            self.fetching = True
            station(self).desk.ask(self, balance, self.know, failed=self.unread)

    def know(self, facts: SandBalanceFacts) -> None:
        """Show the facts."""
        self.facts, self.trouble, self.fetching, self.books = facts, "", False, None
        self.show()
        self.fetch_view()

    def unread(self, error: SandlabError) -> None:
        """There is no balance: say why, and what to do."""
        self.fetching = False
        self.trouble = str(error.problems[0])
        if self.facts is not None:
            super().unread(error)
        self.show()

    def fetch_view(self) -> None:
        """What the view in sight still lacks: a what-if, or the books of the week; no refused one again."""
        desk = station(self).desk
        if self.refused:
            return
        if self.view == BOOKS and self.books is None:
            desk.ask(self, period_books, self.know_books, failed=self.failed)
        elif self.view == WHAT_IF and self.ahead is None and self.work is None:
            acts.foresee(self, self.asked)

    def know_books(self, facts: BooksFacts) -> None:
        """Show the books."""
        self.books = facts
        self.show()

    def failed(self, error: SandlabError) -> None:
        """Say what went wrong in a box; work that was stopped needs only a line."""
        self.settle()
        self.refused = True
        if isinstance(error, StoppedError):
            self.say("Stopped. Nothing has been changed.")
        else:
            self.say("")
            station(self).trouble(error)

    def tall(self) -> bool:
        """Whether flow and sand stand together."""
        return self.has_class("-tall")

    def show(self) -> None:
        """Write and draw the view in sight."""
        if not self.is_attached:
            return
        together = self.tall() and self.view in (FLOW, SAND)
        for name, seen in (
            ("#flow", self.view == FLOW or together),
            ("#sand", self.view in (SAND, WHAT_IF) or together),
            ("#page", self.view in (*SCROLLED, WHAT_IF)),
        ):
            self.query_one(name).display = seen and self.facts is not None
        if self.facts is not None and self.facts.flow is not None:
            rows = flow_picture(self.facts.flow).rows
            self.query_one("#flow").styles.height = rows if self.tall() else "1fr"
        self.query_one("#words", Static).update(pages.sentence(self))
        self.query_one("#views", Static).update(pages.tabs(self))
        self.call_after_refresh(pages.draw, self)

    def on_resize(self, event: events.Resize) -> None:
        """Fit everything."""
        super().on_resize(event)
        self.show()

    def show_progress(self) -> None:
        """The share done, beside the names of the views."""
        self.query_one("#views", Static).update(pages.tabs(self))

    def begin(self, doing: str, work: Work) -> None:
        """Something is being worked out beside."""
        self.doing, self.work = doing, work
        self.say("")
        if self._watch is not None:
            self._watch.resume()
        self.show_progress()

    def settle(self) -> None:
        """Nothing is being worked out any more."""
        self.work = None
        if self._watch is not None:
            self._watch.pause()
        self.show()

    def action_view(self, by: int) -> None:
        """Another view; on tall screens flow and sand are one."""
        self.top, place = 0, (self.view + by) % len(VIEWS)
        if self.tall() and {place, self.view} == {FLOW, SAND}:
            place = (place + by) % len(VIEWS)
        self.go(place)

    def go(self, view: int) -> None:
        """Show a view and fetch what it lacks."""
        self.view, self.refused = view, False
        self.show()
        self.fetch_view()

    def action_step(self, by: int) -> None:
        """More lines where there are any, else another quantity."""
        if self.query_one("#page").display:
            self.top += by
            pages.draw(self)
        else:
            self.action_choose(by)

    def action_choose(self, by: int) -> None:
        """Draw another quantity."""
        if pages.courses(self):
            self.at = (self.at + by) % len(pages.courses(self))
            pages.draw(self)

    def action_ask(self) -> None:
        """Ask for another course of things."""
        acts.ask(self)

    def action_fit(self) -> None:
        """Fit plant values."""
        acts.fit(self)

    def action_accept(self) -> None:
        """Accept what was fitted."""
        acts.accept_values(self)

    def action_end(self) -> None:
        """End what is being worked out, at its next step."""
        if self.work is not None:
            self.work.end()
