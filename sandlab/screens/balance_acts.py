"""What the Balance screen sets going: a what-if, a fit of plant values, their acceptance."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from sandlab.lab.accepting import accept
from sandlab.lab.asking import WhatIf, poured_jobs
from sandlab.lab.facts import AcceptedFacts, DoseFacts, IdentificationFacts, SandForecastFacts
from sandlab.lab.foreseeing import Question, question, reckon
from sandlab.lab.identifying import Window, solve, window_of
from sandlab.labels import inside
from sandlab.screens.balance_pages import VALUES, WHAT_IF
from sandlab.screens.base import station
from sandlab.screens.modals import AskText
from sandlab.screens.what_if import AskWhatIf

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab
    from sandlab.screens.balance_screen import BalanceScreen


def ask(screen: BalanceScreen) -> None:
    """Ask which jobs and kilograms, then reckon."""
    if busy(screen):
        return

    def take(asked: WhatIf | None) -> None:
        if asked is not None:
            screen.asked, screen.ahead, screen.refused = asked, None, False
            screen.view = WHAT_IF
            screen.show()
            foresee(screen, asked)

    def show(jobs: dict[str, tuple[float, float]]) -> None:
        settings = {
            dose.addition.feeder: (dose.addition.label, dose.addition.text) for dose in feeders(screen)
        }
        screen.app.push_screen(AskWhatIf(screen.asked, list(jobs), settings), take)

    station(screen).desk.ask(screen, poured_jobs, show, failed=screen.failed)


def feeders(screen: BalanceScreen) -> list[DoseFacts]:
    """The dry additions of the newest recommendation."""
    facts = screen.facts
    return [one for one in facts.doses if one.addition.material != "water"] if facts else []


def foresee(screen: BalanceScreen, asked: WhatIf) -> None:
    """Gather in the lab's thread, reckon beside it."""

    def know(facts: SandForecastFacts) -> None:
        screen.ahead = facts
        screen.settle()

    def begin(one: Question) -> None:
        work = station(screen).desk.beside(screen, partial(reckon, one), know, failed=screen.failed)
        screen.begin("what if", work)

    station(screen).desk.ask(screen, lambda lab: question(lab, asked), begin, failed=screen.failed)


def fit(screen: BalanceScreen) -> None:
    """Fit plant values: gather in the lab's thread, search beside it."""
    if busy(screen):
        return

    def know(facts: IdentificationFacts) -> None:
        screen.fitted = facts
        screen.settle()

    def begin(window: Window) -> None:
        work = station(screen).desk.beside(screen, partial(solve, window), know, failed=screen.failed)
        screen.begin("fitting", work)

    screen.top = 0
    screen.go(VALUES)
    screen.say("Gathering the tests of the last 25 days.")
    station(screen).desk.ask(screen, window_of, begin, failed=screen.failed)


def busy(screen: BalanceScreen) -> bool:
    """Whether something is being worked out; says so."""
    if screen.work is not None:
        screen.say(f"Still {screen.doing}: Esc stops it.")
    return screen.work is not None


def accept_values(screen: BalanceScreen) -> None:
    """Accept what the window told, with a reason that stays."""
    found = screen.fitted
    if found is None or not found.acceptable:
        screen.say("There is nothing to accept yet: F7 fits plant values.")
        return
    here = station(screen)

    def take(reason: str | None) -> None:
        by = here.technician

        def work(lab: Lab) -> AcceptedFacts:
            return accept(
                lab,
                window_from=found.window_from,
                window_to=found.window_to,
                by=by,
                reason=reason or "",
                values=found.acceptable,
                sd=found.acceptable_sd,
            )

        if reason:
            here.desk.ask(screen, work, accepted, failed=screen.failed)

    def accepted(facts: AcceptedFacts) -> None:
        # What was asked about is settled: another F8 must not record it once more.
        screen.fitted = None
        screen.say(f"Plant values accepted by {facts.by}: the balance starts from them.")
        screen.reload()

    words = f"{_taken(found)}\nThe balance starts from them from now on. Why are they right?"

    def ask_reason() -> None:
        screen.app.push_screen(AskText("Accept plant values", words), take)

    here.with_initials(ask_reason)


def _taken(found: IdentificationFacts) -> str:
    """Which values are taken: those that differ from what is assumed, and those that agree with it."""
    sure = [one for one in found.values if one.identified]
    differ = ", ".join(inside(one.label) for one in sure if one.proposed is not None)
    agree = ", ".join(inside(one.label) for one in sure if one.proposed is None)
    said = [f"Changes {differ}."] if differ else []
    if agree:
        said.append(f"Takes what the window tells of {agree} too, which agree with what is assumed.")
    return " ".join(said)
