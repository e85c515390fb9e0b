"""One control chart: words first, then the drawing, read out test by test; zoomed, panned and acted upon."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from sandlab.drawing import Frame, View, newest, stacked_cells
from sandlab.lab.facts import ChartFacts, ChartKind
from sandlab.lab.foreseen import foreseen_property
from sandlab.quantities import format_number
from sandlab.screens.base import LabScreen, Part, dated, state_parts, station, styled
from sandlab.screens.cells import CellsView
from sandlab.screens.chart_acts import across, beside, choose_other, leave_out, note_event, others, refusal
from sandlab.screens.chart_fetch import Half, fetch
from sandlab.screens.chart_loaded import Loaded
from sandlab.screens.chart_words import Reading
from sandlab.screens.figures import Figures
from sandlab.screens.freezing import freeze
from sandlab.screens.relation_screen import RelationScreen

if TYPE_CHECKING:
    from sandlab.screens.desk import Work

FIRST, GROWS, MOST = 500, 8, 1_000_000
"""Tests read when a chart opens; how many times more when somebody looks further back; the most."""


class ChartScreen(LabScreen):
    """A chart with a cursor."""

    CSS_PATH = "charts.tcss"
    DECIDES = "You decide: has the process moved, since when, and what was done then?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "back", "Overview"),
        Binding("enter", "figures", "Figures", tooltip="The figures behind the chart, and a quiet stretch"),
        Binding("f8", "kind", "Kind", tooltip="Single tests, EWMA, CUSUM, residuals, widened limits ..."),
        Binding("f6", "freeze", "Freeze", tooltip="Freeze limits from the tests in view, with a reason"),
        Binding("down", "signal(1)", "Signal", tooltip="Next signal; Up: the one before"),
        Binding("up", "signal(-1)", "Signal before", show=False),
        Binding(
            "left",
            "cursor(-1)",
            "Test before",
            show=False,
            tooltip="Read the test before; Right: the next, Home and End: the ends",
        ),
        Binding("right", "cursor(1)", "Next test", show=False),
        Binding("home", "cursor(-9999999)", "First test", show=False),
        Binding("end", "cursor(9999999)", "Last test", show=False),
        Binding("x,delete", "leave_out", "Leave out", tooltip="Leave this test out of limits, with a reason"),
        Binding("f7", "note", "Add event", tooltip="Note on the time line, at the cursor or now"),
        Binding("minus,subtract", "zoom(2)", "Longer", tooltip="Show a longer time; +: a shorter one"),
        Binding("plus,add", "zoom(0.5)", "Shorter", show=False),
        Binding("e", "pan(-0.5)", "Earlier", tooltip="Look at what was earlier; l: later"),
        Binding("l", "pan(0.5)", "Later", show=False),
        Binding("w", "beside", "With", tooltip="A second property on the same time line"),
        Binding("r", "relation", "Relation", tooltip="Against another property: do they still belong so?"),
        Binding("f", "foreseen", "Foreseen", tooltip="Measured less what the balance foresaw; f: back"),
        Binding("pagedown", "turn(1)", "Next", tooltip="Next property of the overview; PgUp: the one before"),
        Binding("pageup", "turn(-1)", "Property before", show=False),
    ]

    def __init__(self, labels: Mapping[str, str], property: str) -> None:
        super().__init__()
        self.labels = labels
        self.property = property
        self.beside = ""
        self.kind: ChartKind = "individuals"
        self.last = FIRST
        self.loaded: Loaded | None = None
        self.view: View | None = None
        self.cursor: int | None = None
        self.running: Work | None = None
        self.waiting: Half | None = None

    def content(self) -> ComposeResult:
        """Words, drawing, read-out, where the limits come from."""
        yield Static("", id="words")
        yield CellsView(id="chart")
        yield Static("", id="readout")
        yield Static("", id="baseline")
        yield Static("", id="spread")

    @property
    def facts(self) -> ChartFacts | None:
        """The facts shown."""
        return self.loaded.facts if self.loaded else None

    def reload(self) -> None:
        """The chart anew."""
        fetch(self)

    def know(self, loaded: Loaded) -> None:
        """Show the facts, unless another chart was chosen meanwhile; view and cursor stay at their times."""
        facts, times, old = loaded.facts, loaded.picture.times, self.loaded
        if (facts.property, facts.kind) != (self.property, self.kind):
            return
        if old is not None and self.cursor is not None:
            self.cursor = loaded.place_at(int(old.picture.times[self.cursor]))
        if self.view is None or (old is not None and self.view == newest(old.picture.times)):
            self.view = newest(times)
        self.loaded = loaded
        self.say("")
        self.show()

    def show(self) -> None:
        """Write and draw everything."""
        loaded, here = self.loaded, station(self)
        if loaded is None:
            return
        facts = loaded.facts
        parts: list[Part | str] = [
            state_parts(facts.state, here.glyphs),
            " ",
            facts.kind_words or facts.words,
        ]
        self.query_one("#words", Static).update(styled(*parts))
        self.query_one("#baseline", Static).update(styled(*self.reading(loaded).below()))
        self.query_one("#baseline", Static).display = loaded.beside is None
        spread = self.reading(loaded).spread() if loaded.beside is None else ""
        self.query_one("#spread", Static).update(spread)
        self.query_one("#spread", Static).set_class(bool(spread), "-said")
        self.show_view()

    def reading(self, loaded: Loaded) -> Reading:
        """The words of the chart."""
        here = station(self)
        return Reading(loaded.facts, here.zone, here.mark, loaded.signals)

    def show_view(self) -> None:
        """Only what a key in the picture changes: the drawing and the read-out."""
        loaded, view, here = self.loaded, self.view, station(self)
        if loaded is None or view is None:
            return
        reading, cursor = self.reading(loaded), self.cursor
        words = reading.newest() if cursor is None else reading.under(cursor, loaded.beside_words(cursor))
        self.query_one("#readout", Static).update(styled(*words), layout=False)
        pictures = loaded.pictures(view, cursor)

        def drawn(width: int, height: int) -> Frame:
            return stacked_cells(pictures, width=width, height=height, zone=here.zone, glyphs=here.glyphs)

        self.query_one("#chart", CellsView).draw_by(drawn)

    def action_back(self) -> None:
        """To the overview; nobody waits for the balance then."""
        if self.running is not None:
            self.running.end()
        self.dismiss()

    def look(self, view: View) -> None:
        """Another stretch of time; earlier tests are read when it begins before those known."""
        self.view, loaded = view, self.loaded
        if self.running is None:
            self.say("")
        self.show_view()
        if loaded is None or not view.reaches(loaded.picture.times) or len(loaded.facts.points) < self.last:
            return
        if self.last < MOST and loaded.picture.times.size:
            self.last = min(MOST, self.last * GROWS)
            self.say("reading earlier tests; keys go on meanwhile")
            self.reload()

    def action_cursor(self, by: int) -> None:
        """Move the cursor; it starts at the newest test in view, and beyond the last one it leaves."""
        loaded, view = self.loaded, self.view
        if loaded is None or view is None or not loaded.facts.points:
            return
        last = len(loaded.facts.points) - 1
        target = loaded.newest_in(view) if self.cursor is None and abs(by) == 1 else (self.cursor or 0) + by
        self.cursor = None if self.cursor == last and by == 1 else max(0, min(target, last))
        self.look(view if self.cursor is None else view.holding(loaded.picture.times, self.cursor))

    def action_signal(self, by: int) -> None:
        """Put the cursor on the next signal in time; without a cursor on the newest one in view."""
        loaded, view = self.loaded, self.view
        place = loaded.next_signal(self.cursor, by, view) if loaded and view else None
        if loaded is None or view is None or place is None:
            self.say("There is no signal in the tests read.")
            return
        self.cursor = place
        self.look(view.holding(loaded.picture.times, place))

    def action_zoom(self, factor: float) -> None:
        """A longer or a shorter time, around the cursor or up to the newest test in view."""
        if self.loaded is None or self.view is None or not self.loaded.picture.times.size:
            return
        times, view = self.loaded.picture.times, self.view
        around = min(view.end, int(times[-1])) if self.cursor is None else int(times[self.cursor])
        self.look(view.zoomed(times, factor, around))

    def action_pan(self, share: float) -> None:
        """Earlier or later; the cursor leaves when it falls out of view."""
        if self.loaded is None or self.view is None:
            return
        times = self.loaded.picture.times
        view = self.view.panned(times, share)
        if self.cursor is not None and not view.start <= int(times[self.cursor]) <= view.end:
            self.cursor = None
        self.look(view)

    def action_turn(self, by: int) -> None:
        """Another property."""
        names, here = list(self.labels), foreseen_property(self.property) or self.property
        self.open(names[(names.index(here) + by) % len(names)])

    def open(self, name: str) -> None:
        """Another chart in this place."""
        self.property = name
        self.cursor, self.kind, self.view, self.last = None, "individuals", None, FIRST
        self.beside = "" if self.beside == name else self.beside
        self.reload()

    def action_foreseen(self) -> None:
        """From the tests to what the balance did not foresee of them, and back."""
        name = across(self.property)
        if name:
            self.open(name)
        else:
            self.say("The balance foresees nothing of it: press f at compactability, moisture, active clay.")

    def action_freeze(self) -> None:
        """Freeze limits from the tests in view."""
        if self.refused("freeze"):
            return
        points = self.loaded.in_view(self.view) if self.loaded and self.view else ()
        if len(points) < 2 or points[0].at is None or points[-1].at is None:
            self.say("There are too few tests in view to take limits from.")
            return
        freeze(self, self.property, window=(points[0].at, points[-1].at))

    def action_kind(self) -> None:
        """The same tests on another kind of chart."""
        kinds = self.facts.kinds if self.facts and self.facts.property == self.property else (self.kind,)
        self.kind = kinds[(kinds.index(self.kind) + 1) % len(kinds)]
        self.reload()

    def action_figures(self) -> None:
        """The figures behind the chart; from there limits from the latest quiet stretch."""
        if self.facts is None or self.refused("figures"):
            return
        name = self.property

        def take(wanted: bool | None) -> None:
            if wanted:
                freeze(self, name, window=None)

        self.app.push_screen(Figures(name, self.facts.label), take)

    def action_note(self) -> None:
        """Add an event to the time line, at the cursor or now."""
        note_event(self, at=self.loaded.moment(self.cursor) if self.loaded else None)

    def action_leave_out(self) -> None:
        """Leave the test under the cursor out of limits, or let it count again."""
        facts, cursor = self.facts, self.cursor
        if facts is None or cursor is None:
            self.say("Put the cursor on a test first: Left and Right, or Down to a signal.")
        elif not self.refused("leave out"):
            point, here = facts.points[cursor], station(self)
            value = format_number(point.value, facts.decimals, mark=here.mark)
            when = dated(point.at, here.zone, "%d %b %H:%M")
            leave_out(self, self.property, point, f"{value} {facts.unit} of {when}".replace("  ", " "))

    def refused(self, act: str) -> bool:
        """Whether this chart has no such act; says so."""
        words = refusal(self.property, act)
        if words:
            self.say(words)
        return bool(words)

    def action_beside(self) -> None:
        """A second property on the same time line; chosen again it goes."""
        if self.beside:
            self.beside = ""
            self.reload()
            return

        def take(name: str) -> None:
            self.beside = name
            self.reload()

        choices = beside(self.property, self.labels)
        choose_other(self, "With which property on the same time line?", *choices, take)

    def action_relation(self) -> None:
        """Against another property."""
        if self.refused("relation"):
            return
        name, (names, labels) = self.property, others(self.property, self.labels)

        def take(other: str) -> None:
            self.app.push_screen(RelationScreen(name, names, other))

        choose_other(self, "Against which property?", names, labels, take)
