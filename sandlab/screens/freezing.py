"""Freezing limits: the window and what would leave it are shown, and a reason is asked for that stays."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sandlab.lab.facts import BaselineFacts, ProposalFacts
from sandlab.screens.base import LabScreen, station
from sandlab.screens.modals import AskText

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab


def freeze(screen: LabScreen, property: str, *, window: tuple[datetime, datetime] | None) -> None:
    """Ask who and why, then freeze limits from a window; from the latest quiet one when none is given."""

    def fetch(lab: Lab) -> ProposalFacts:
        from sandlab.lab.phase import propose

        start, end = window or (None, None)
        return propose(lab, property, window_from=start, window_to=end)

    def begin() -> None:
        station(screen).desk.ask(screen, fetch, lambda proposal: ask_reason(screen, proposal))

    station(screen).with_initials(begin)


def ask_reason(screen: LabScreen, proposal: ProposalFacts) -> None:
    """Show the window and ask why."""
    by = station(screen).technician

    def take(reason: str | None) -> None:
        def work(lab: Lab) -> BaselineFacts:
            from sandlab.lab.charting import freeze_baseline
            from sandlab.lab.phase import leaving

            return freeze_baseline(
                lab,
                proposal.property,
                window_from=proposal.window_from,
                window_to=proposal.window_to,
                by=by,
                reason=reason or "",
                excluded=leaving(proposal),
            )

        if reason:
            station(screen).desk.ask(screen, work, lambda _: screen.reload())

    lines = proposal.words.split("\n")
    shown = (
        [*lines[:7], f"and {len(lines) - 7} more; sandlab propose lists them"] if len(lines) > 8 else lines
    )
    question = "\n".join(shown) + "\nThe limits then hold until somebody freezes new ones. Why this stretch?"
    screen.app.push_screen(AskText(f"Freeze limits of {proposal.label}", question), take)
