"""The chart of one property at a glance, beside what a person is doing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sandlab.screens.base import station
from sandlab.screens.cells import CellsView

if TYPE_CHECKING:
    from sandlab.drawing import ChartPicture, Frame
    from sandlab.lab.opening import Lab

TESTS = 120


class Glance(CellsView):
    """Drawn only where there is room; fetched in the lab's thread when another property is looked at."""

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self.property = ""

    def look_at(self, property: str, *, again: bool = False) -> None:
        """Show this property's chart."""
        if self.display and self.size.height and (again or property != self.property):
            self.property = property
            station(self).desk.ask(self, lambda lab: fetch(lab, property), self.show)

    def show(self, found: tuple[str, ChartPicture]) -> None:
        """Draw it, unless another property is looked at by now."""
        from sandlab.drawing import chart_cells

        name, picture = found
        if name == self.property:
            here = station(self)

            def drawn(width: int, height: int) -> Frame:
                return chart_cells(picture, width=width, height=height, zone=here.zone, glyphs=here.glyphs)

            self.draw_by(drawn)


def fetch(lab: Lab, property: str) -> tuple[str, ChartPicture]:
    """A property and its chart."""
    from sandlab.lab.charting import chart, picture

    return property, picture(chart(lab, property, last=TESTS), mark=lab.mark)
