"""What the shift has to know: notes handed over and steps of the reaction plan, each answered with a key."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from sandlab.errors import SandlabError
from sandlab.lab.facts import HandoverFacts, StepFacts, StepsFacts
from sandlab.lab.handing import handover, take_over, write_handover
from sandlab.lab.reacting import mark_step, steps_due
from sandlab.screens.base import Part, station, styled
from sandlab.screens.modals import AskText, Panel

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab

NOTES, STEPS = 4, 6
Both = tuple[HandoverFacts, StepsFacts]


class Shift(Panel[None]):
    """Notes first, then steps; it stays open until it is left."""

    HEADING = "Handed over, and to be done"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f6,plus,add", "read", "I have read the notes"),
        Binding("f7", "write", "Write a note"),
        Binding("escape,enter", "leave", "Back"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.steps: tuple[StepFacts, ...] = ()
        self.unread = False

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """There is nothing to have read while no note waits."""
        return action != "read" or self.unread

    def content(self) -> ComposeResult:
        """Filled as soon as the records are read."""
        yield Static("reading the records", id="shift-words", classes="words")

    def on_mount(self) -> None:
        """Fetch notes and steps."""
        self.fetch(both)

    def fetch(self, work: Callable[[Lab], Both]) -> None:
        """Have something done, then show what there is now."""
        station(self).desk.ask(self, work, self.know, failed=self.refused)

    def know(self, facts: Both) -> None:
        """Show notes and steps."""
        notes, steps = facts
        self.unread = notes.unread > 0
        self.refresh_bindings()
        self.steps = tuple(one for one in steps.steps if one.done_at is None)[:STEPS]
        parts: list[Part | str] = [(notes.words, "bold"), "\n"]
        for note in sorted(notes.notes, key=lambda one: bool(one.read_by))[:NOTES]:
            parts += [note.text, "\n", (f"   {note.words}", "$muted"), "\n"]
        parts += ["\n", (steps.words, "bold"), "\n"]
        reason = ""
        for number, one in enumerate(self.steps, start=1):
            if one.reason != reason:
                reason = one.reason
                parts += [(f"{reason}; {one.who}", "$muted"), "\n"]
            parts += [f"{number}  {one.words}", "\n"]
        if self.steps:
            parts.append(("A digit: this step has been taken.", "$muted"))
        self.query_one("#shift-words", Static).update(styled(*parts))

    def refused(self, error: SandlabError) -> None:
        """Say why, and show what there is."""
        station(self).trouble(error, title="Not done")

    def action_read(self) -> None:
        """The next shift has read what was handed over."""
        here = station(self)
        here.with_initials(lambda: self.fetch(partial(read, by=here.technician)))

    def action_write(self) -> None:
        """Leave a note for the next shift."""

        def take(text: str | None) -> None:
            if text:
                self.fetch(partial(wrote, text=text, by=station(self).technician))

        question = "What does the next shift have to know?"
        box = AskText("Note for the next shift", question, most=500)

        def ask() -> None:
            self.app.push_screen(box, take)

        station(self).with_initials(ask)

    def on_key(self, event: events.Key) -> None:
        """A digit marks its step as done."""
        number = int(event.character) if event.character and event.character.isdigit() else 0
        if 1 <= number <= len(self.steps):
            event.stop()
            step = self.steps[number - 1]
            station(self).with_initials(lambda: self.ask_found(step))

    def ask_found(self, step: StepFacts) -> None:
        """What was found belongs to the record."""

        def take(text: str | None) -> None:
            if text:
                by = station(self).technician
                self.fetch(partial(done, step=step, by=by, found=text))

        self.app.push_screen(AskText(step.step, "Done. What was found?", most=200), take)


def both(lab: Lab) -> Both:
    """Notes and steps."""
    return handover(lab), steps_due(lab)


def read(lab: Lab, *, by: str) -> Both:
    """Take over the notes."""
    return take_over(lab, by=by), steps_due(lab)


def wrote(lab: Lab, *, text: str, by: str) -> Both:
    """Write a note."""
    return write_handover(lab, text=text, by=by), steps_due(lab)


def done(lab: Lab, *, step: StepFacts, by: str, found: str) -> Both:
    """Mark a step."""
    steps = mark_step(lab, property=step.property, signal=step.signal, step=step.step, by=by, found=found)
    return handover(lab), steps
