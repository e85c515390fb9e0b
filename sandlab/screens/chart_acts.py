"""What is done from a chart: a note on the time line, a test left out, another property chosen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from sandlab.lab.facts import EventFacts, PointFacts
from sandlab.screens.base import LabScreen, dated, station
from sandlab.screens.choosing import Choose
from sandlab.screens.modals import AskText

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab


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
