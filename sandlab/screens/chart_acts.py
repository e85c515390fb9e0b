"""What is done from a chart: a note on the time line, a test left out, another property chosen."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from sandlab.lab.facts import EventFacts, PointFacts
from sandlab.lab.foreseen import can_be_foreseen, foreseen_property, innovation_of
from sandlab.lab.together import NAME
from sandlab.screens.base import LabScreen, dated, station
from sandlab.screens.choosing import Choose
from sandlab.screens.modals import AskText

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab

NOT_TOGETHER = {
    "freeze": "Its limits follow from those of its properties: freeze those over one window.",
    "figures": "Open a property of the set for its figures; Down reads out what was odd here.",
    "leave out": "Open the property that was odd, and leave its test out there.",
    "relation": "Choose one property first: PgDn leads to the next one.",
}
"""Why the set together has no such act, and where it is."""
NOT_FORESEEN = {
    "freeze": "Its limits are what the balance itself expects: there are none to freeze.",
    "figures": "The figures are those of the tests: f leads there.",
    "leave out": "Leave the test itself out: f leads to it.",
    "relation": "Relations are between tests: f leads there.",
}
"""The same for what the balance did not foresee."""


def refusal(property: str, act: str) -> str:
    """Why a chart has no such act; empty where it has."""
    if property == NAME:
        return NOT_TOGETHER[act]
    return NOT_FORESEEN[act] if foreseen_property(property) else ""


def across(property: str) -> str:
    """From a property to what the balance did not foresee of it, and back; empty where there is nothing."""
    other = innovation_of(property) if can_be_foreseen(property) else ""
    return foreseen_property(property) or other


def others(property: str, labels: Mapping[str, str]) -> tuple[list[str], list[str]]:
    """The other properties of the overview with their labels."""
    found = [one for one in labels if one not in (property, NAME)]
    return found, [labels[one] for one in found]


def beside(property: str, labels: Mapping[str, str]) -> tuple[list[str], list[str]]:
    """What can stand below a chart: first what the balance did not foresee of its property."""
    found, names = others(property, labels)
    if can_be_foreseen(property):
        return [across(property), *found], ["What the balance did not foresee of it", *names]
    return found, names


def note_event(screen: LabScreen, *, at: datetime | None = None) -> None:
    """Ask for a note and put it on the time line, at the cursor or now."""
    here = station(screen)

    def take(text: str | None) -> None:
        by = here.technician

        def work(lab: Lab) -> EventFacts:
            from sandlab.lab.charting import add_event

            return add_event(lab, text=text or "", by=by, at=at)

        if text:
            here.desk.ask(screen, work, lambda _: screen.reload())

    def ask() -> None:
        when = f"at the cursor, {dated(at, here.zone, '%a %d %b %H:%M')}" if at else "now"
        screen.app.push_screen(
            AskText(f"Event on the time line, {when}", "What was done, or what happened?"), take
        )

    here.with_initials(ask)


def leave_out(screen: LabScreen, property: str, point: PointFacts, words: str) -> None:
    """Ask why, then leave the test out of limits, or let it count again if it was left out."""
    from sandlab.lab.leaving import leave_out as leave
    from sandlab.lab.leaving import reason_of, take_in

    here, out = station(screen), reason_of(point.flags)
    verb = take_in if out else leave

    def take(reason: str | None) -> None:
        by = here.technician

        def work(lab: Lab) -> PointFacts:
            return verb(lab, property, sample=point.sample, by=by, reason=reason or "")

        if reason:
            here.desk.ask(screen, work, lambda _: screen.reload())

    def ask() -> None:
        if out:
            question = f"It is left out {out}. Why does it count again?"
            screen.app.push_screen(AskText(f"Let {words} count again", question), take)
            return
        question = (
            "It stays on record and on the chart, crossed out; limits frozen from now on leave it out. "
            "Those in force do not move. What is the cause?"
        )
        screen.app.push_screen(AskText(f"Leave {words} out of limits", question), take)

    here.with_initials(ask)


def choose_other(
    screen: LabScreen, title: str, names: Sequence[str], labels: Sequence[str], then: Callable[[str], None]
) -> None:
    """Choose one of several properties."""

    def take(name: str | None) -> None:
        if name is not None:
            then(name)

    screen.app.push_screen(Choose(title, names, labels), take)
