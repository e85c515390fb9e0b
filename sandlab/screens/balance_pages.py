"""The views of the Balance screen: which one says what, and how each is drawn at the size there is."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from sandlab.drawing import band_cells, flow_cells
from sandlab.lab.estimates import band_picture
from sandlab.lab.facts import CourseFacts
from sandlab.lab.flowing import flow_picture
from sandlab.screens.balance_words import (
    Lines,
    addition_lines,
    books_lines,
    fitted_lines,
    forecast_lines,
    state_lines,
    wrapped,
)
from sandlab.screens.base import Part, station, styled
from sandlab.screens.cells import CellsView

if TYPE_CHECKING:
    from sandlab.screens.balance_screen import BalanceScreen

VIEWS = ("Flow", "Sand", "Additions", "What if", "Values", "Books")
FLOW, SAND, ADDITIONS, WHAT_IF, VALUES, BOOKS = range(len(VIEWS))
SCROLLED = (ADDITIONS, VALUES, BOOKS)


class Place(Static):
    """Lines that are written anew when there is more or less room."""

    def on_resize(self) -> None:
        """Fit the lines."""
        redraw(self)


class Canvas(CellsView):
    """A picture that is drawn anew when there is more or less room."""

    def on_resize(self) -> None:
        """Fit the picture."""
        redraw(self)


def redraw(widget: Widget) -> None:
    """The place has another size."""
    draw(cast("BalanceScreen", widget.screen))


def sentence(screen: BalanceScreen) -> str:
    """What matters in this view."""
    if screen.facts is None:
        return screen.trouble or "working it out"
    if screen.view == WHAT_IF and screen.ahead is not None:
        return screen.ahead.words
    if screen.view == VALUES and screen.fitted is not None:
        return screen.fitted.words
    if screen.view == BOOKS and screen.books is not None:
        return screen.books.words
    return screen.facts.words


def tabs(screen: BalanceScreen) -> Content:
    """The names of the views, the one in sight reversed; what is being worked out."""
    parts: list[Part | str] = []
    for place, name in enumerate(VIEWS):
        together = screen.tall() and {place, screen.view} == {FLOW, SAND}
        seen = place == screen.view or together
        parts += [(f" {name} ", "bold $bar reverse" if seen else ""), " "]
    if screen.work is not None:
        parts.append((f" {screen.doing} {screen.work.share:.0%}, Esc stops", "bold $watch"))
    return styled(*parts)


def draw(screen: BalanceScreen) -> None:
    """Pictures and lines at the size that there is."""
    if screen.facts is None:
        return
    here, flow = station(screen), screen.query_one("#flow", CellsView)
    if flow.display and screen.facts.flow is not None:
        picture = flow_picture(screen.facts.flow)
        frame = flow_cells(
            picture, width=flow.size.width, height=max(flow.size.height, picture.rows), glyphs=here.glyphs
        )
        flow.draw(frame)
    draw_course(screen)
    page = screen.query_one("#page", Static)
    if page.display:
        fill(screen, page)


def courses(screen: BalanceScreen) -> tuple[CourseFacts, ...]:
    """What can be charted in this view."""
    if screen.view == WHAT_IF:
        return screen.ahead.courses if screen.ahead is not None else ()
    return screen.facts.courses if screen.facts is not None else ()


def draw_course(screen: BalanceScreen) -> None:
    """The chosen quantity over time, and the table beside it."""
    here, view = station(screen), screen.query_one("#course", CellsView)
    if not screen.query_one("#sand").display or screen.facts is None:
        return
    state = screen.query_one("#state", Static)
    state.display = screen.view != WHAT_IF
    if state.display:
        width = 57 if screen.has_class("-wide") else screen.size.width
        table = state_lines(screen.facts, screen.at, width, both=screen.has_class("-wide"))
        state.update(Content("\n").join(table))
    found = courses(screen)
    if found:
        picture = band_picture(found[min(screen.at, len(found) - 1)], mark=here.mark)
        size = view.size
        frame = band_cells(picture, width=size.width, height=size.height, zone=here.zone, glyphs=here.glyphs)
        view.draw(frame)


def page_lines(screen: BalanceScreen, width: int) -> Lines:
    """The text of the view in sight."""
    mark = station(screen).mark
    if screen.view == ADDITIONS and screen.facts is not None:
        return addition_lines(screen.facts, width)
    if screen.view == WHAT_IF:
        return forecast_lines(screen.ahead, width, mark) if screen.ahead else []
    if screen.view == BOOKS:
        return books_lines(screen.books, width, mark) if screen.books else [Content(" working it out")]
    if screen.fitted is not None:
        return fitted_lines(screen.fitted, width)
    words = "No plant values have been fitted yet. F7 fits them to the tests of the last 25 days: wear "
    words += "factors, core sand that stays, what drinks water; it says what those days cannot tell."
    return wrapped(words, width)


def fill(screen: BalanceScreen, page: Static) -> None:
    """The lines in sight; how many more there are."""
    lines, room = page_lines(screen, page.size.width), max(3, page.size.height)
    screen.top = max(0, min(screen.top, len(lines) - room))
    shown = lines[screen.top : screen.top + room]
    left = len(lines) - screen.top - room
    if left > 0:
        shown[-1] = styled((f" Down: {left + 1} more lines", "$muted"))
    page.update(Content("\n").join(shown))
