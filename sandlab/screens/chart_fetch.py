"""How a chart comes to the screen: read in the lab's thread; the balance, where it is needed, beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sandlab.errors import SandlabError
from sandlab.lab.charting import chart, picture
from sandlab.lab.facts import ChartFacts, ChartKind
from sandlab.lab.foreseen import foreseen_property
from sandlab.lab.picturing import spread_picture
from sandlab.screens.base import station
from sandlab.screens.chart_loaded import Loaded

if TYPE_CHECKING:
    from sandlab.lab.innovations import Gathered
    from sandlab.lab.opening import Lab
    from sandlab.screens.chart_screen import ChartScreen
    from sandlab.screens.desk import Work

WAIT = "The sand balance is run over the last 30 days; keys go on meanwhile."


@dataclass(frozen=True, slots=True)
class Asked:
    """The charts asked for: the first, how much of it and of which kind, and the one below it."""

    name: str
    last: int
    kind: ChartKind
    beside: str


@dataclass(frozen=True, slots=True)
class Half:
    """What the store told, where the balance has still to be run: charts that need no balance, or None."""

    asked: Asked
    gathered: Gathered
    facts: ChartFacts | None
    beside: ChartFacts | None


def wish(screen: ChartScreen) -> Asked:
    """What the screen is to show now."""
    return Asked(screen.property, screen.last, screen.kind, screen.beside)


def fetch(screen: ChartScreen) -> None:
    """Read the screen's charts; of several wishes while the balance runs only the last one is run then."""
    asked = wish(screen)

    def answered(found: Loaded | Half) -> None:
        if isinstance(found, Loaded):
            screen.know(found)
        elif screen.running is None:
            run(screen, found)
        else:
            screen.waiting = found

    station(screen).desk.ask(screen, lambda lab: read(lab, asked), answered, failed=screen.unread)


def read(lab: Lab, asked: Asked) -> Loaded | Half:
    """The charts, or as much of them as the store tells."""
    foreseen = [one for one in (asked.name, asked.beside) if foreseen_property(one)]
    if not foreseen:
        facts = chart(lab, asked.name, last=asked.last, kind=asked.kind)
        below = None
        if asked.beside and facts.points:
            below = chart(lab, asked.beside, since=facts.points[0].at)
        return loaded(facts, below, lab.mark)
    from sandlab.lab.innovations import gather

    gathered = gather(lab, foreseen)
    first = None if asked.name in foreseen else chart(lab, asked.name, last=asked.last, kind=asked.kind)
    plain = asked.beside != "" and asked.beside not in foreseen
    other = chart(lab, asked.beside, since=gathered.since) if plain else None
    return Half(asked, gathered, first, other)


def run(screen: ChartScreen, half: Half) -> None:
    """Run the balance beside the lab's thread, then show the charts, and what was asked for meanwhile."""

    def done(found: Loaded) -> None:
        screen.running = None
        if half.asked == wish(screen):
            screen.know(found)
        waiting, screen.waiting = screen.waiting, None
        if waiting is not None:
            run(screen, waiting)

    def failed(error: SandlabError) -> None:
        screen.running = None
        screen.unread(error)

    screen.say(WAIT)
    screen.running = station(screen).desk.beside(
        screen, lambda work: finished(half, work), done, failed=failed
    )


def finished(half: Half, work: Work) -> Loaded:
    """Both charts with what the balance did not foresee; reads nothing from the store."""
    from sandlab.lab.innovations import Shown, innovation_chart, met

    asked, found = half.asked, met(half.gathered, work)
    facts = half.facts or innovation_chart(found, asked.name, Shown(asked.last, asked.kind))
    other = half.beside
    if foreseen_property(asked.beside):
        start = facts.points[0].at if facts.points else None
        other = innovation_chart(found, asked.beside, Shown(since=start))
    return loaded(facts, other, half.gathered.lab.mark)


def loaded(facts: ChartFacts, other: ChartFacts | None, mark: str) -> Loaded:
    """Charts with their shapes."""
    below = None if other is None else picture(other, mark=mark)
    return Loaded(facts, picture(facts, mark=mark), below, spread_picture(facts, mark=mark))
