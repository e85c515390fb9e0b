"""Correcting or voiding a value of the sheet: the value, the reason, and a question when it is doubtful."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from sandlab.errors import InputError, NeedsConfirmation, SandlabError
from sandlab.lab.correcting import correct, void
from sandlab.lab.facts import ResultFacts, SampleFacts, SavedFacts
from sandlab.quantities import parse_number
from sandlab.screens.base import station
from sandlab.screens.modals import Confirm
from sandlab.screens.saved import Saved

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab
    from sandlab.screens.sheet import Sheet


@dataclass(frozen=True, slots=True)
class Change:
    """A correction being made; `text` is None for a void."""

    sample: str
    property: str
    label: str
    text: str | None
    seen: int | None
    reason: str = ""


class Corrections:
    """One change at a time, asked for on top of the sheet."""

    def __init__(self, screen: Sheet) -> None:
        self.screen = screen

    def correct(self, sample: SampleFacts, name: str, label: str, result: ResultFacts | None) -> None:
        """Ask for the right value, then for the reason."""
        seen = result.revision if result else None

        def take(text: str | None) -> None:
            if not text:
                return
            try:
                parse_number(text, where=label)
            except InputError as error:
                # Before the reason is asked for, so that it is not typed in vain.
                station(self.screen).trouble(error, title="Not changed")
                return
            self.ask_reason(Change(sample.sample, name, label, text, seen))

        was = "It was not measured."
        if result:
            exact = exact_text(result, station(self.screen).mark)
            was = f"It is saved as {exact} {result.unit}.".replace(" .", ".")
        question = f"{was} The right value:"
        station(self.screen).with_initials(
            lambda: self.screen.show_question(f"Correct {label}", question, take)
        )

    def void(self, sample: SampleFacts, name: str, label: str, result: ResultFacts) -> None:
        """Take a value back."""
        change = Change(sample.sample, name, label, None, result.revision)
        station(self.screen).with_initials(lambda: self.ask_reason(change))

    def ask_reason(self, change: Change) -> None:
        """Nothing is changed without a reason."""
        title = f"Void {change.label}" if change.text is None else f"{change.label} becomes {change.text}"

        def take(reason: str | None) -> None:
            if reason:
                self.save(replace(change, reason=reason))

        self.screen.show_question(title, "Why? The reason is kept with both values.", take)

    def save(self, change: Change, confirmed: tuple[str, ...] = ()) -> None:
        """Save the correction or void."""
        by = station(self.screen).technician

        def work(lab: Lab) -> SavedFacts:
            act = void if change.text is None else partial(correct, text=change.text, confirmed=confirmed)
            return act(
                lab,
                sample=change.sample,
                property=change.property,
                by=by,
                reason=change.reason,
                seen=change.seen,
            )

        desk = station(self.screen).desk
        desk.ask(
            self.screen, work, partial(self.saved, change), failed=lambda error: self.refused(error, change)
        )

    def saved(self, change: Change, facts: SavedFacts) -> None:
        """Say what follows; new additions are worked out on top of the sheet."""
        self.screen.reload()
        done = "Taken back" if change.text is None else "Added" if change.seen is None else "Corrected"
        self.screen.app.push_screen(Saved(facts, change=done), self.go_on)

    def go_on(self, wants: bool | None) -> None:
        """New additions, when they are wanted."""
        if wants:
            from sandlab.screens.advice import Advice

            self.screen.app.push_screen(Advice(), lambda words: self.screen.say(words or ""))

    def refused(self, error: SandlabError, change: Change) -> None:
        """Ask about a doubtful value; show everything else."""
        if not isinstance(error, NeedsConfirmation):
            station(self.screen).trouble(error, title="Not changed")
            return
        names = error.names

        def answer(agreed: bool | None) -> None:
            if agreed:
                self.save(change, names)

        box = Confirm("Doubtful", error.problems, "Is this really the right value?")
        self.screen.app.push_screen(box, answer)


def exact_text(result: ResultFacts, mark: str) -> str:
    """A value with the digits that were typed, where the sheet shows it rounded."""
    if result.value is None or result.censored:
        return result.text
    exact = f"{result.value:.5g}".replace(".", mark)
    return exact if len(exact) > len(result.text) else result.text
