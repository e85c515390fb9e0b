"""One control chart: words first, then the drawing, where its limits came from, its signals and why."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from sandlab.drawing import ChartPicture, chart_cells
from sandlab.lab.charting import add_event, chart, picture
from sandlab.lab.facts import BaselineFacts, ChartFacts, ChartKind, EventFacts
from sandlab.lab.kinds import KINDS
from sandlab.lab.together import KINDS_TOGETHER, NAME
from sandlab.quantities import format_number
from sandlab.screens.base import LabScreen, Part, dated, state_parts, station, styled
from sandlab.screens.cells import CellsView
from sandlab.screens.figures import Figures
from sandlab.screens.freezing import freeze
from sandlab.screens.modals import AskText

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab

SPANS = (40, 60, 120, 250, 500, 1000, 2500)
"""How many tests can be shown."""


class ChartScreen(LabScreen):
    """A chart with a cursor."""

    CSS_PATH = "charts.tcss"
    DECIDES = "You decide: has the process moved, since when, and what was done then?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "back", "Overview"),
        Binding("enter", "figures", "Figures", tooltip="The figures behind the chart, and a quiet stretch"),
        Binding("f8", "kind", "Kind", tooltip="Single tests, EWMA, CUSUM, residuals, widened limits"),
        Binding("f6", "freeze", "Freeze", tooltip="Freeze limits from the tests shown, with a reason"),
        Binding(
            "left",
            "cursor(-1)",
            "Test before",
            show=False,
            tooltip="Read the test before; Right: the next, Home and End: the ends",
        ),
        Binding("right", "cursor(1)", "Next test", show=False),
        Binding("home", "cursor(-99999)", "First test", show=False),
        Binding("end", "cursor(99999)", "Last test", show=False),
        Binding("down", "signal(1)", "Signal", tooltip="Next signal; Up: the one before"),
        Binding("up", "signal(-1)", "Signal before", show=False),
        Binding("pagedown", "turn(1)", "Next", tooltip="Next property of the overview; PgUp: the one before"),
        Binding("pageup", "turn(-1)", "Property before", show=False),
        Binding("minus,subtract", "span(1)", "Longer", tooltip="Show a longer time"),
        Binding("plus,add", "span(-1)", "Shorter", tooltip="Show a shorter time"),
        Binding("f7", "note", "Add event", tooltip="Note on the time line: what was done or happened"),
    ]

    def __init__(self, names: list[str], property: str) -> None:
        super().__init__()
        self.names = names
        self.property = property
        self.last = 120
        self.kind: ChartKind = "individuals"
        self.facts: ChartFacts | None = None
        self.picture: ChartPicture | None = None
        self.cursor: int | None = None

    def content(self) -> ComposeResult:
        """Words, drawing, read-out, where the limits come from."""
        yield Static("", id="words")
        yield CellsView(id="chart")
        yield Static("", id="readout")
        yield Static("", id="baseline")

    def reload(self) -> None:
        """The chart anew."""
        name, last, kind = self.property, self.last, self.kind

        def fetch(lab: Lab) -> ChartFacts:
            return chart(lab, name, last=last, kind=kind)

        station(self).desk.ask(self, fetch, self.know, failed=self.unread)

    def know(self, facts: ChartFacts) -> None:
        """Show the facts, unless another property was chosen meanwhile."""
        if (facts.property, facts.kind) == (self.property, self.kind):
            self.facts, self.picture = facts, picture(facts, mark=station(self).mark)
            if self.cursor is not None and self.cursor >= len(facts.points):
                self.cursor = None
            self.show()

    def show(self) -> None:
        """Write and draw everything."""
        if self.facts is None or self.picture is None:
            return
        here, facts = station(self), self.facts
        parts: list[Part | str] = [
            state_parts(facts.state, here.glyphs),
            " ",
            facts.kind_words or facts.words,
        ]
        self.query_one("#words", Static).update(styled(*parts))
        self.query_one("#readout", Static).update(styled(*self.readout()))
        self.query_one("#baseline", Static).update(styled(*self.below_words(facts)))
        view = self.query_one("#chart", CellsView)
        shown = replace(self.picture, cursor=self.cursor)
        size = view.size
        view.draw(
            chart_cells(shown, width=size.width, height=size.height, zone=here.zone, glyphs=here.glyphs)
        )

    def readout(self) -> list[Part | str]:
        """The test under the cursor and the signals there; without a cursor the newest signals."""
        facts, here = self.facts, station(self)
        if facts is None or not facts.points:
            return ["No test of it is recorded yet. F2 leads to the form."]
        if self.cursor is None:
            alarms = [one for one in facts.signals if one.alarm][-2:]
            if not alarms:
                seen = len(facts.signals)
                return [
                    f"no alarm in these {len(facts.points)} tests; {seen} patterns to look at"
                    if seen
                    else f"no signal in these {len(facts.points)} tests"
                ]
            return [f"{dated(one.at, here.zone, '%d %b %H:%M')}  {one.reason}\n" for one in alarms]
        point = facts.points[self.cursor]
        value = format_number(point.value, facts.decimals, mark=here.mark)
        notes = ["corrected"] if point.corrected else []
        notes += point.flags
        parts: list[Part | str] = [
            (f"{dated(point.at, here.zone, '%a %d %b %Y %H:%M')}  {value} {facts.unit}".rstrip(), "bold"),
            f"  by {point.by}" if point.by else "",
            self.drawn_words(facts, self.cursor),
            f"  {'; '.join(notes)}" if notes else "",
            "\n",
        ]
        at_cursor = (one for one in facts.signals if one.index == self.cursor)
        there = sorted(at_cursor, key=lambda one: not one.alarm)
        more = f"; {len(there) - 1} more pattern{'s' if len(there) > 2 else ''}" if len(there) > 1 else ""
        return [*parts, there[0].reason + more if there else "no signal here"]

    def drawn_words(self, facts: ChartFacts, place: int) -> str:
        """What another kind of chart has at a test."""
        drawn = facts.drawn
        value = drawn.values[place] if drawn else None
        if drawn is None or value is None or facts.property == NAME:
            return ""
        shown = format_number(value, drawn.decimals, mark=station(self).mark)
        return f"; here {shown} {drawn.unit}".rstrip()

    def below_words(self, facts: ChartFacts) -> list[Part | str]:
        """What another kind of chart promises, or where the limits come from and whether they still hold."""
        if facts.drawn is not None:
            return [facts.drawn.design]
        if facts.baseline is None:
            return ["No limits are frozen. Show a quiet stretch of 20 or more tests and press F6."]
        first, spread = self.baseline_words(facts, facts.baseline)
        old: Part = ("These limits no longer describe the process: Enter says why. ", "$watch")
        return [first, old if facts.proposal else "", spread]

    def baseline_words(self, facts: ChartFacts, baseline: BaselineFacts) -> tuple[str, str]:
        """Who froze the limits, when, from what and why; and the spread behind them."""
        here = station(self)

        def shown(value: float, more: int = 0) -> str:
            return format_number(value, facts.decimals + more, mark=here.mark)

        def day(moment: datetime | None) -> str:
            return dated(moment, here.zone, "%d %b %Y")

        lag1 = format_number(baseline.lag1, 2, mark=here.mark)
        return (
            f"limits {shown(baseline.lower, 1)} to {shown(baseline.upper, 1)}, frozen "
            f"{day(baseline.frozen_at)} by {baseline.frozen_by} from {baseline.count} tests, "
            f"{day(baseline.window_from)} to {day(baseline.window_to)}: {baseline.reason}. ",
            f"Standard deviation {shown(baseline.sigma, 2)} (from moving ranges "
            f"{shown(baseline.sigma_moving_range, 2)}), lag-1 correlation {lag1}",
        )

    def on_resize(self, event: events.Resize) -> None:
        """Draw at the new size."""
        super().on_resize(event)
        self.call_after_refresh(self.show)

    def action_back(self) -> None:
        """To the overview."""
        self.dismiss()

    def action_cursor(self, by: int) -> None:
        """Move the cursor; the first move starts at the newest test."""
        if self.facts and self.facts.points:
            newest = len(self.facts.points) - 1
            self.cursor = newest if self.cursor is None else max(0, min(self.cursor + by, newest))
            self.show()

    def action_signal(self, by: int) -> None:
        """Put the cursor on the next signal in time, from the newest backwards when there is no cursor."""
        places = sorted({one.index for one in self.facts.signals}) if self.facts else []
        if not places:
            self.say("There is no signal in the tests shown.")
            return
        if self.cursor is None:
            self.cursor = places[-1]
        else:
            beyond = [place for place in places if (place - self.cursor) * by > 0]
            self.cursor = (beyond[0] if by > 0 else beyond[-1]) if beyond else self.cursor
        self.show()

    def action_turn(self, by: int) -> None:
        """Another property."""
        self.property = self.names[(self.names.index(self.property) + by) % len(self.names)]
        self.cursor, self.kind = None, "individuals"
        self.reload()

    def action_span(self, by: int) -> None:
        """A longer or a shorter time."""
        self.last = SPANS[max(0, min(SPANS.index(self.last) + by, len(SPANS) - 1))]
        self.cursor = None
        self.reload()

    def action_freeze(self) -> None:
        """Freeze limits from the tests shown."""
        if self.property == NAME:
            self.say("Its limits follow from those of its properties: freeze those over one window.")
            return
        points = self.facts.points if self.facts else ()
        if len(points) < 2 or points[0].at is None or points[-1].at is None:
            self.say("There are too few tests to take limits from.")
            return
        freeze(self, self.property, window=(points[0].at, points[-1].at))

    def action_kind(self) -> None:
        """The same tests on another kind of chart."""
        kinds = KINDS_TOGETHER if self.property == NAME else KINDS
        self.kind = kinds[(kinds.index(self.kind) + 1) % len(kinds)]
        self.reload()

    def action_figures(self) -> None:
        """The figures behind the chart; from there limits from the latest quiet stretch."""
        if self.facts is None or self.property == NAME:
            self.say("Open a property of the set for its figures; Down reads out what was odd here.")
            return
        name = self.property

        def take(wanted: bool | None) -> None:
            if wanted:
                freeze(self, name, window=None)

        self.app.push_screen(Figures(name, self.facts.label), take)

    def action_note(self) -> None:
        """Add an event to the time line."""
        note_event(self)


def note_event(screen: LabScreen) -> None:
    """Ask for a note and put it on the time line now."""
    here = station(screen)

    def take(text: str | None) -> None:
        by = here.technician

        def work(lab: Lab) -> EventFacts:
            return add_event(lab, text=text or "", by=by)

        if text:
            here.desk.ask(screen, work, lambda _: screen.reload())

    def ask() -> None:
        screen.app.push_screen(
            AskText("Event on the time line, now", "What was done, or what happened?"), take
        )

    here.with_initials(ask)
