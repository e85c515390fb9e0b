"""What a chart screen holds: a chart as facts and as shapes, and the second property beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np

from sandlab.drawing import ChartPicture, View
from sandlab.lab.facts import ChartFacts, PointFacts, SignalFacts
from sandlab.labels import inside
from sandlab.quantities import format_number


@dataclass(frozen=True, slots=True, eq=False)
class Loaded:
    """A chart, that of its subgroups' spread, and the second property; made once for each reading."""

    facts: ChartFacts
    picture: ChartPicture
    beside: ChartPicture | None
    spread: ChartPicture | None = None
    signals: dict[int, list[SignalFacts]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for one in self.facts.signals:
            self.signals.setdefault(one.index, []).append(one)

    def pictures(self, view: View, cursor: int | None) -> list[ChartPicture]:
        """What is drawn of it, from the top."""
        shown = replace(self.picture, cursor=cursor, start=view.start, end=view.end)
        return [shown, *(one for one in (self.spread, self.beside) if one is not None)]

    def in_view(self, view: View) -> Sequence[PointFacts]:
        """The tests in view."""
        return self.facts.points[replace(self.picture, start=view.start, end=view.end).shown()]

    def place_at(self, time: int) -> int | None:
        """The test of exactly that time."""
        times = self.picture.times
        place = int(np.searchsorted(times, time))
        return place if place < times.size and int(times[place]) == time else None

    def moment(self, cursor: int | None) -> datetime | None:
        """When the test under the cursor was taken."""
        return None if cursor is None else self.facts.points[cursor].at

    def newest_in(self, view: View) -> int:
        """The newest test in view, else the last one before it, else the first."""
        return max(0, int(np.searchsorted(self.picture.times, view.end, side="right")) - 1)

    def next_signal(self, cursor: int | None, by: int, view: View) -> int | None:
        """The next test with a signal; without a cursor the newest in view or before it, else the first."""
        places = sorted(self.signals)
        if cursor is None or not places:
            seen = [place for place in places if place <= self.newest_in(view)]
            return seen[-1] if seen else next(iter(places), None)
        beyond = [place for place in places if (place - cursor) * by > 0]
        return (beyond[0] if by > 0 else beyond[-1]) if beyond else cursor

    def beside_words(self, cursor: int | None) -> str:
        """The second property's last test up to the cursor."""
        other = self.beside
        if other is None or cursor is None:
            return ""
        place = int(np.searchsorted(other.times, self.picture.times[cursor], side="right")) - 1
        if place < 0:
            return ""
        value = format_number(float(other.values[place]), other.decimals, mark=other.decimal_mark)
        return f", {inside(other.title)} {value} {other.unit}".rstrip()
