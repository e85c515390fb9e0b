"""The engineer's overview: every property with its state in words, those that need attention first."""

from __future__ import annotations

from typing import ClassVar

import numpy as np
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from sandlab.drawing import sparkline
from sandlab.lab.charting import RECENT, overview
from sandlab.lab.facts import OverviewFacts, PropertyFacts
from sandlab.screens.base import LabScreen, Part, ago, state_parts, station, styled
from sandlab.screens.cells import PickList
from sandlab.screens.chart_screen import ChartScreen, note_event
from sandlab.screens.glance import Glance
from sandlab.screens.look import role_style

STATE_WIDTH, NAME_WIDTH, VALUE_WIDTH, AGE_WIDTH = 23, 26, 13, 9


class ChartsScreen(LabScreen):
    """A line per property; Enter opens its chart. On tall screens the chart under the cursor stands below."""

    CSS_PATH = "charts.tcss"
    DECIDES = "You decide: which property needs a look now?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f7", "note", "Add event", tooltip="Note on the time line: what was done or happened"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.facts: OverviewFacts | None = None

    def content(self) -> ComposeResult:
        """Heading, list, the words of the line under the cursor, and on tall screens its chart."""
        yield Static("reading the records", id="heading")
        yield PickList(id="properties")
        yield Static("", id="words")
        yield Glance(id="glance")

    def on_mount(self) -> None:
        """The list has the keys."""
        self.query_one(PickList).focus()

    def reload(self) -> None:
        """All properties anew."""
        station(self).desk.ask(self, overview, self.know, failed=self.unread)

    def know(self, facts: OverviewFacts) -> None:
        """Show the facts; the cursor stays on its property."""
        properties = self.query_one(PickList)
        kept = self.facts.properties[properties.at].property if self.facts and self.facts.properties else ""
        self.facts = facts
        names = [one.property for one in facts.properties]
        properties.fill(self.lines(), at=names.index(kept) if kept in names else 0)
        self.show_words(again=True)

    def lines(self) -> list[Content]:
        """A line per property."""
        if self.facts is None:
            return []
        room = max(8, self.size.width - STATE_WIDTH - NAME_WIDTH - VALUE_WIDTH - AGE_WIDTH)
        return [self.line(one, min(room, RECENT)) for one in self.facts.properties]

    def line(self, one: PropertyFacts, room: int) -> Content:
        """State, name, last value, age, and the last tests as a line."""
        glyphs, now = station(self).glyphs, station(self).now()
        state = state_parts(one.state, glyphs)
        label = one.label if len(one.label) < NAME_WIDTH else one.label[: NAME_WIDTH - 2] + "~"
        value = f"{one.last_text:>6} {one.unit:<{VALUE_WIDTH - 8}} " if one.last_at else " " * VALUE_WIDTH
        parts: list[Part | str] = [state, " " * (STATE_WIDTH - len(state[0])), f"{label:<{NAME_WIDTH}}"]
        parts += [value, (f"{ago(one.last_at, now).removesuffix(' ago'):<{AGE_WIDTH}}", "$muted")]
        values = np.array(one.recent, dtype=np.float64)
        frame = sparkline(values, room, glyphs, lower=one.lower, upper=one.upper)
        parts += [(run.text, role_style(run.role)) for run in frame.runs()[0]]
        return styled(*parts)

    def show_words(self, *, again: bool = False) -> None:
        """What the state of the line under the cursor means; an empty plant is told what to do first."""
        if self.facts is None:
            return
        tested = sum(one.last_at is not None for one in self.facts.properties)
        attention = sum(
            one.state in ("past_reaction_limit", "signal", "stale") for one in self.facts.properties
        )
        more = self.query_one(PickList).below()
        heading = f" {len(self.facts.properties)} properties, {attention} need attention" + (
            f", {more} more below" if more else ""
        )
        words = self.facts.properties[self.query_one(PickList).at].words if self.facts.properties else ""
        if not tested:
            heading = " No test is recorded yet"
            words = "First: F2, log the hourly set. After 20 tests open a chart and freeze limits with F6."
        self.query_one("#heading", Static).update(styled((heading, "bold")))
        self.query_one("#words", Static).update(words)
        if self.facts.properties:
            self.query_one(Glance).look_at(
                self.facts.properties[self.query_one(PickList).at].property, again=again
            )

    def on_resize(self, event: events.Resize) -> None:
        """Fit the lines."""
        super().on_resize(event)
        self.call_after_refresh(self.fit)

    def fit(self) -> None:
        """Write the lines anew."""
        self.query_one(PickList).fill(self.lines())
        self.show_words(again=True)

    def on_pick_list_moved(self, _event: PickList.Moved) -> None:
        """Say what the line means."""
        self.show_words()

    def on_pick_list_picked(self, event: PickList.Picked) -> None:
        """Open the chart."""
        if self.facts:
            names = [one.property for one in self.facts.properties]
            self.app.push_screen(ChartScreen(names, names[event.at]))

    def action_note(self) -> None:
        """Add an event to the time line."""
        note_event(self)
