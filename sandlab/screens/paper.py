"""Reports on paper, asked for by a key."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sandlab.screens.base import LabScreen, station

if TYPE_CHECKING:
    from sandlab.errors import SandlabError
    from sandlab.lab.facts import ReportFileFacts
    from sandlab.lab.opening import Lab


def write_shift(screen: LabScreen) -> None:
    """Have the report of the running shift written, and say where it is."""

    def failed(error: SandlabError) -> None:
        screen.say("")
        station(screen).trouble(error)

    screen.say("Writing the report of this shift ...")
    station(screen).desk.ask(screen, _write, lambda facts: screen.say(facts.words), failed=failed)


def _write(lab: Lab) -> ReportFileFacts:
    # Imported in the lab's thread: the screen need not wait for it.
    from sandlab.lab.report import shift_paper

    return shift_paper(lab)
