"""Two properties against each other: does the one still follow the other as it did over the baseline?"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from sandlab.drawing import Frame, ScatterPicture, scatter_cells
from sandlab.lab.facts import RelationFacts
from sandlab.lab.relating import relation, scatter
from sandlab.labels import inside
from sandlab.quantities import format_number
from sandlab.screens.base import LabScreen, Part, dated, station, styled
from sandlab.screens.cells import CellsView

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab

SIDES = {1: "above the band", -1: "below the band", 0: "in the band"}


class RelationScreen(LabScreen):
    """A scatter with a cursor that goes through the tests in the order of time."""

    CSS_PATH = "charts.tcss"
    DECIDES = "You decide: do these two properties still belong together as they did?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "back", "Chart"),
        Binding(
            "left",
            "cursor(-1)",
            "Test before",
            tooltip="Read the test before; Right: the next, Home and End: the ends",
        ),
        Binding("right", "cursor(1)", "Next test", show=False),
        Binding("home", "cursor(-9999999)", "First test", show=False),
        Binding("end", "cursor(9999999)", "Last test", show=False),
        Binding("down", "outside(1)", "Outside", tooltip="Next test outside the band; Up: the one before"),
        Binding("up", "outside(-1)", "Outside before", show=False),
        Binding("pagedown", "turn(1)", "Next", tooltip="Against the next property; PgUp: the one before"),
        Binding("pageup", "turn(-1)", "Property before", show=False),
    ]

    def __init__(self, property: str, names: list[str], against: str) -> None:
        super().__init__()
        self.property = property
        self.names = names
        self.against = against
        self.facts: RelationFacts | None = None
        self.picture: ScatterPicture | None = None
        self.cursor: int | None = None

    def content(self) -> ComposeResult:
        """Words, drawing, read-out, where the line comes from."""
        yield Static("", id="words")
        yield CellsView(id="chart")
        yield Static("", id="readout")
        yield Static("", id="baseline")

    def reload(self) -> None:
        """The relation anew."""
        name, against = self.property, self.against

        def fetch(lab: Lab) -> RelationFacts:
            return relation(lab, name, against)

        station(self).desk.ask(self, fetch, self.know, failed=self.unread)

    def know(self, facts: RelationFacts) -> None:
        """Show the facts, unless another property was chosen meanwhile."""
        if facts.across.property != self.against:
            return
        self.facts, self.picture = facts, scatter(facts, mark=station(self).mark)
        if self.cursor is not None and self.cursor >= len(facts.pairs):
            self.cursor = None
        self.show()

    def show(self) -> None:
        """Write and draw everything."""
        facts, picture = self.facts, self.picture
        if facts is None or picture is None:
            return
        self.query_one("#words", Static).update(facts.words)
        self.query_one("#baseline", Static).update(facts.origin)
        self.query_one("#readout", Static).update(styled(*self.readout(facts)), layout=False)
        shown, glyphs = replace(picture, cursor=self.cursor), station(self).glyphs

        def drawn(width: int, height: int) -> Frame:
            return scatter_cells(shown, width=width, height=height, glyphs=glyphs)

        self.query_one("#chart", CellsView).draw_by(drawn)

    def readout(self, facts: RelationFacts) -> list[Part | str]:
        """The pair under the cursor."""
        here = station(self)
        if not facts.pairs:
            return ["There are no tests of both yet."]
        if self.cursor is None:
            later = sum(not one.baseline for one in facts.pairs)
            return [f"dots: tests the line comes from; points: the last {later}; triangles: outside the band"]
        pair = facts.pairs[self.cursor]
        values = [
            f"{inside(axis.label)} {format_number(value, axis.decimals, mark=here.mark)} {axis.unit}".rstrip()
            for axis, value in ((facts.up, pair.y), (facts.across, pair.x))
        ]
        when = dated(pair.at, here.zone, "%a %d %b %Y %H:%M")
        return [
            (f"{when}  {', '.join(values)}", "bold"),
            f"  by {pair.by}" if pair.by else "",
            f"\n{SIDES[pair.side]}{'; one of the baseline' if pair.baseline else ''}",
        ]

    def action_back(self) -> None:
        """To the chart."""
        self.dismiss()

    def action_cursor(self, by: int) -> None:
        """Through the tests in the order of time; the first move starts at the newest."""
        if self.facts and self.facts.pairs:
            last = len(self.facts.pairs) - 1
            self.cursor = last if self.cursor is None else max(0, min(self.cursor + by, last))
            self.show()

    def action_outside(self, by: int) -> None:
        """The next test outside the band, from the newest backwards when there is no cursor."""
        places = [place for place, one in enumerate(self.facts.pairs) if one.side] if self.facts else []
        if not places:
            self.say("No test lies outside the band.")
            return
        if self.cursor is None:
            self.cursor = places[-1]
        else:
            beyond = [place for place in places if (place - self.cursor) * by > 0]
            self.cursor = (beyond[0] if by > 0 else beyond[-1]) if beyond else self.cursor
        self.show()

    def action_turn(self, by: int) -> None:
        """Against another property."""
        self.against = self.names[(self.names.index(self.against) + by) % len(self.names)]
        self.cursor = None
        self.reload()
