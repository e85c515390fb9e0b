"""The engineer's balance: what goes round, what is in the sand, what is ahead, plant values, books."""

from __future__ import annotations

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container
from textual.content import Content
from textual.timer import Timer
from textual.widgets import Static

from sandlab.drawing import band_cells, flow_cells
from sandlab.errors import SandlabError
from sandlab.lab.balancing import balance
from sandlab.lab.bookkeeping import period_books
from sandlab.lab.estimates import band_picture
from sandlab.lab.facts import (
    BooksFacts,
    CourseFacts,
    IdentificationFacts,
    SandBalanceFacts,
    SandForecastFacts,
)
from sandlab.lab.flowing import flow_picture
from sandlab.lab.foreseeing import WhatIf
from sandlab.screens import balance_acts as acts
from sandlab.screens.balance_words import (
    Lines,
    addition_lines,
    books_lines,
    fitted_lines,
    forecast_lines,
    state_lines,
    wrapped,
)
from sandlab.screens.base import LabScreen, Part, station, styled
from sandlab.screens.cells import CellsView
from sandlab.screens.desk import StoppedError, Work

VIEWS = ("Flow", "Sand", "Additions", "What if", "Plant values", "Books")
FLOW, SAND, ADDITIONS, WHAT_IF, VALUES, BOOKS = range(len(VIEWS))
SCROLLED = (ADDITIONS, VALUES, BOOKS)
WATCH_S = 0.2


class Place(Static):
    """Lines that are written anew when there is more or less room."""

    def on_resize(self) -> None:
        """Fit the lines."""
        if isinstance(self.screen, BalanceScreen):
            self.screen.draw()


class Canvas(CellsView):
    """A picture that is drawn anew when there is more or less room."""

    def on_resize(self) -> None:
        """Fit the picture."""
        if isinstance(self.screen, BalanceScreen):
            self.screen.draw()


class BalanceScreen(LabScreen):
    """Six views of one balance; on tall screens the flow and the sand stand together."""

    CSS_PATH = "balance.tcss"
    DECIDES = "You decide: does the sand go where we want it, and what do we change for the coming days?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(
            "pagedown", "view(1)", "View", tooltip="Next view: flow, sand, additions, what if, values, books"
        ),
        Binding("pageup", "view(-1)", "View before", show=False),
        Binding("down", "step(1)", "Next", tooltip="Next quantity, or more lines; Up: back"),
        Binding("up", "step(-1)", "Up", show=False),
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
        self._watch: Timer | None = None

    def content(self) -> ComposeResult:
        """Sentence, names of the views, and a place for each kind of view."""
        yield Static("working it out", id="words")
        yield Static("", id="views")
        yield Canvas(id="flow")
        with Container(id="sand"):
            yield Canvas(id="course")
            yield Place("", id="state")
        yield Place("", id="page")

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
        """What the view in sight still lacks: a what-if at present settings, or the books of the week."""
        desk = station(self).desk
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
        if isinstance(error, StoppedError):
            self.say("StoppedError. Nothing has been changed.")
        else:
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
        self.query_one("#words", Static).update(self.sentence())
        self.query_one("#views", Static).update(self.tabs())
        self.call_after_refresh(self.draw)

    def sentence(self) -> str:
        """What matters in this view."""
        if self.facts is None:
            return self.trouble or "working it out"
        if self.view == WHAT_IF and self.ahead is not None:
            return self.ahead.words
        if self.view == VALUES and self.fitted is not None:
            return self.fitted.words
        if self.view == BOOKS and self.books is not None:
            return self.books.words
        return self.facts.words

    def tabs(self) -> Content:
        """The names of the views, the one in sight reversed; what is being worked out."""
        parts: list[Part | str] = []
        for place, name in enumerate(VIEWS):
            together = self.tall() and {place, self.view} == {FLOW, SAND}
            seen = place == self.view or together
            parts += [(f" {name} ", "bold $bar reverse" if seen else ""), " "]
        if self.work is not None:
            parts.append((f" {self.doing} {self.work.share:.0%}, Esc stops", "bold $watch"))
        return styled(*parts)

    def draw(self) -> None:
        """Pictures and lines at the size that there is."""
        if self.facts is None:
            return
        here, flow = station(self), self.query_one("#flow", CellsView)
        if flow.display and self.facts.flow is not None:
            picture = flow_picture(self.facts.flow)
            frame = flow_cells(
                picture, width=flow.size.width, height=max(flow.size.height, picture.rows), glyphs=here.glyphs
            )
            flow.draw(frame)
        self.draw_course()
        page = self.query_one("#page", Static)
        if page.display:
            self.fill(page)

    def courses(self) -> tuple[CourseFacts, ...]:
        """What can be charted in this view."""
        if self.view == WHAT_IF:
            return self.ahead.courses if self.ahead is not None else ()
        return self.facts.courses if self.facts is not None else ()

    def draw_course(self) -> None:
        """The chosen quantity over time, and the table beside it."""
        here, view = station(self), self.query_one("#course", CellsView)
        if not self.query_one("#sand").display or self.facts is None:
            return
        state = self.query_one("#state", Static)
        state.display = self.view != WHAT_IF
        if state.display:
            width = 54 if self.has_class("-wide") else self.size.width
            lines = state_lines(self.facts, self.at, width, both=self.has_class("-wide"))
            state.update(Content("\n").join(lines))
        courses = self.courses()
        if courses:
            picture = band_picture(courses[min(self.at, len(courses) - 1)], mark=here.mark)
            size = view.size
            frame = band_cells(
                picture, width=size.width, height=size.height, zone=here.zone, glyphs=here.glyphs
            )
            view.draw(frame)

    def lines(self, width: int) -> Lines:
        """The text of the view in sight."""
        mark = station(self).mark
        if self.view == ADDITIONS and self.facts is not None:
            return addition_lines(self.facts, width)
        if self.view == WHAT_IF:
            return forecast_lines(self.ahead, width, mark) if self.ahead else []
        if self.view == BOOKS:
            return books_lines(self.books, width, mark) if self.books else [Content(" working it out")]
        if self.fitted is not None:
            return fitted_lines(self.fitted, width)
        words = "No plant values have been fitted yet. F7 fits them to the tests of the last 25 days: wear "
        words += "factors, core sand that stays, what drinks water; it says what those days cannot tell."
        return wrapped(words, width)

    def fill(self, page: Static) -> None:
        """The lines in sight; how many more there are."""
        lines, room = self.lines(page.size.width), max(3, page.size.height)
        self.top = max(0, min(self.top, len(lines) - room))
        shown = lines[self.top : self.top + room]
        left = len(lines) - self.top - room
        if left > 0:
            shown[-1] = styled((f" Down: {left + 1} more lines", "$muted"))
        page.update(Content("\n").join(shown))

    def on_resize(self, event: events.Resize) -> None:
        """Fit everything."""
        super().on_resize(event)
        self.show()

    def show_progress(self) -> None:
        """The share done, beside the names of the views."""
        self.query_one("#views", Static).update(self.tabs())

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
        self.view = view
        self.show()
        self.fetch_view()

    def action_step(self, by: int) -> None:
        """Another quantity, or other lines."""
        if self.view in SCROLLED:
            self.top += by
        elif self.courses():
            self.at = (self.at + by) % len(self.courses())
        self.draw()

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
