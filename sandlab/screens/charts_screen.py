"""The engineer's overview: a small chart of every property with its state in words, the worst first."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

import numpy as np
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from sandlab.drawing import sparkline
from sandlab.drawing.tile import Tile
from sandlab.lab.charting import RECENT, overview
from sandlab.lab.facts import OverviewFacts, PropertyFacts
from sandlab.screens.base import LabScreen, Part, ago, state_parts, station, styled
from sandlab.screens.cells import PickList
from sandlab.screens.chart_acts import note_event
from sandlab.screens.chart_screen import ChartScreen
from sandlab.screens.glance import Glance
from sandlab.screens.look import role_style
from sandlab.screens.paper import write_shift
from sandlab.screens.wall import Wall

if TYPE_CHECKING:
    from datetime import datetime

STATE_WIDTH, NAME_WIDTH, VALUE_WIDTH, AGE_WIDTH = 23, 26, 13, 9
ATTENTION = ("past_reaction_limit", "signal", "stale")


class ChartsScreen(LabScreen):
    """A wall of small charts, or one line per property; Enter opens the chart."""

    CSS_PATH = "charts.tcss"
    DECIDES = "You decide: which property needs a look now?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f8", "list", "List", tooltip="One line for each property, or the wall of small charts"),
        Binding("f7", "note", "Add event", tooltip="Note on the time line: what was done or happened"),
        Binding("f6", "report", "Report", tooltip="Report of this shift as a PDF, for the meeting"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.facts: OverviewFacts | None = None
        self.listed = False

    def content(self) -> ComposeResult:
        """Heading, wall and list, the words of the property under the cursor, and its chart beside a list."""
        yield Static("reading the records", id="heading")
        yield Wall(id="wall")
        yield PickList(id="properties")
        yield Static("", id="words")
        yield Glance(id="glance")

    def on_mount(self) -> None:
        """The wall has the keys."""
        self.show_list()

    @property
    def at(self) -> int:
        """The number of the property under the cursor."""
        return self.query_one(PickList).at if self.listed else self.query_one(Wall).at

    def show_list(self) -> None:
        """Either the list or the wall is seen and has the keys."""
        wall, properties = self.query_one(Wall), self.query_one(PickList)
        wall.display, properties.display = not self.listed, self.listed
        self.set_class(self.listed, "-listed")
        (properties if self.listed else wall).focus()

    def reload(self) -> None:
        """All properties anew."""
        station(self).desk.ask(self, overview, self.know, failed=self.unread)

    def know(self, facts: OverviewFacts) -> None:
        """Show the facts; the cursor stays on its property."""
        old = self.facts.properties if self.facts else ()
        kept = old[self.at].property if old else ""
        self.facts = facts
        names = [one.property for one in facts.properties]
        self.fill(names.index(kept) if kept in names else 0)

    def fill(self, at: int) -> None:
        """Write wall and list anew, the cursor on number `at`."""
        if self.facts is not None:
            now = station(self).now()
            self.query_one(Wall).fill([tile_of(one, now) for one in self.facts.properties], at=at)
            self.query_one(PickList).fill(self.lines(), at=at)
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
        """What the state of the property under the cursor means; an empty plant is told what to do first."""
        if self.facts is None:
            return
        properties = self.facts.properties
        attention = sum(one.state in ATTENTION for one in properties)
        more = self.query_one(PickList).below() if self.listed else self.query_one(Wall).below()
        heading = f" {len(properties)} properties, {attention} need attention"
        heading += f", {more} more below" if more else ""
        words = properties[self.at].words if properties else ""
        if not any(one.last_at is not None for one in properties):
            heading = " No test is recorded yet"
            words = "First: F2, log the hourly set. After 20 tests open a chart and freeze limits with F6."
        self.query_one("#heading", Static).update(styled((heading, "bold")))
        self.query_one("#words", Static).update(words)
        if properties and self.listed:
            self.query_one(Glance).look_at(properties[self.at].property, again=again)

    def on_resize(self, event: events.Resize) -> None:
        """Fit wall and lines."""
        super().on_resize(event)
        self.call_after_refresh(lambda: self.fill(self.at))

    def on_pick_list_moved(self, _event: PickList.Moved) -> None:
        """Say what the property's state means."""
        self.show_words()

    def on_pick_list_picked(self, event: PickList.Picked) -> None:
        """Open the chart."""
        if self.facts:
            labels = {one.property: one.label for one in self.facts.properties}
            self.app.push_screen(ChartScreen(labels, list(labels)[event.at]))

    def action_list(self) -> None:
        """From the wall to the list and back, the cursor on the same property."""
        at, self.listed = self.at, not self.listed
        self.show_list()
        self.call_after_refresh(lambda: self.fill(at))

    def action_note(self) -> None:
        """Add an event to the time line."""
        note_event(self)

    def action_report(self) -> None:
        """Write the report of the running shift into the plant's folder."""
        write_shift(self)


def tile_of(one: PropertyFacts, now: datetime) -> Tile:
    """A property as a small chart."""
    return Tile(
        title=one.label,
        reading=f"{one.last_text} {one.unit}".strip() if one.last_at else "",
        state=one.state,
        words=one.brief,
        age=ago(one.last_at, now).removesuffix(" ago") if one.last_at else "",
        values=np.array(one.recent, dtype=np.float64),
        decimals=one.decimals,
        centre=one.centre,
        lower=one.lower,
        upper=one.upper,
    )
