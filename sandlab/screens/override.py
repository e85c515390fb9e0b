"""The operator's kilograms: run otherwise than released, or put into the batch just made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widget import Widget
from textual.widgets import Static

from sandlab.errors import InputError, Problem
from sandlab.lab.facts import AdditionFacts
from sandlab.quantities import parse_number
from sandlab.screens.base import short_name
from sandlab.screens.modals import Panel, problem_words
from sandlab.screens.number_field import NumberField
from sandlab.screens.text_field import TextField


@dataclass(frozen=True, slots=True)
class OtherKg:
    """What was typed; feeders not named stay as shown."""

    added_kg: dict[str, float]
    reason: str
    texts: dict[str, str] = field(default_factory=dict)


class Override(Panel[OtherKg | None]):
    """A field per material and one for the reason; Enter moves on, on the reason it saves."""

    HEADING = "Which kilograms do you run, and why?"
    EXPLAINS = "Blank keeps what is released. Enter moves on; Enter on the reason saves."
    BESIDE = "released"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Keep the released"),
    ]

    def __init__(
        self,
        additions: Sequence[AdditionFacts],
        before: OtherKg | None = None,
        refused: Sequence[Problem] = (),
    ) -> None:
        super().__init__()
        self.additions = additions
        self.problems = refused
        texts = before.texts if before else {}
        self.fields = [NumberField(texts.get(one.feeder, ""), id=one.feeder) for one in additions]
        self.reason = TextField(before.reason if before else "", max_length=200, id="reason")

    @property
    def stops(self) -> list[Widget]:
        """The fields in the order of Enter."""
        return [*self.fields, self.reason]

    def content(self) -> ComposeResult:
        """The released kilograms beside a blank field each."""
        yield Static(self.EXPLAINS, classes="words")
        for one, typed in zip(self.additions, self.fields, strict=True):
            with Horizontal(classes="line"):
                yield Static(short_name(one.label), classes="name")
                yield typed
                yield Static(f" kg, {self.BESIDE} {one.text}", classes="rest")
        if self.reason in self.stops:
            with Horizontal(classes="line"):
                yield Static("Reason", classes="name")
                yield self.reason
        yield Static("", classes="words", id="problems")

    def on_mount(self) -> None:
        """What was refused is where the cursor begins."""
        self.go_to_refused()

    def go_to_refused(self) -> None:
        """The cursor goes to the first field that a problem names."""
        named = {one.where for one in self.problems}
        fields = zip(
            [*(one.label for one in self.additions), "reason"], [*self.fields, self.reason], strict=True
        )
        for where, typed in fields:
            if where in named:
                self.set_focus(typed)
                break

    def action_enter(self) -> None:
        """Move on; on the last field, save."""
        if self.focused is self.stops[-1]:
            self.take()
        else:
            self.action_move(1)

    def action_move(self, by: int) -> None:
        """The arrows go through the fields."""
        at = self.stops.index(self.focused) + by if self.focused in self.stops else 0
        self.set_focus(self.stops[max(0, min(at, len(self.stops) - 1))])

    def typed(self) -> tuple[dict[str, float], list[Problem]]:
        """The kilograms typed, and what is wrong with the others."""
        added: dict[str, float] = {}
        problems: list[Problem] = []
        for one, typed in zip(self.additions, self.fields, strict=True):
            if typed.value.strip():
                try:
                    added[one.feeder] = parse_number(typed.value, where=one.label).value
                except InputError as error:
                    problems += error.problems
        return added, problems

    def take(self) -> None:
        """Return what was typed, or say what is wrong with it."""
        added, problems = self.typed()
        if not added and not problems:
            problems.append(
                Problem("kilograms", "nothing is typed", "type the kilograms you run, or press Esc")
            )
        if not self.reason.value.strip():
            problems.append(Problem("reason", "is empty", "say why you run other kilograms"))
        self.answer(added, problems)

    def answer(self, added: dict[str, float], problems: list[Problem]) -> None:
        """Close with what was typed, or show the problems and go on."""
        if problems:
            self.query_one("#problems", Static).update(problem_words(problems))
            self.problems = problems
            self.go_to_refused()
        else:
            texts = {one.feeder: typed.value for one, typed in zip(self.additions, self.fields, strict=True)}
            self.dismiss(OtherKg(added, self.reason.value.strip(), texts))


class MadeBatch(Override):
    """What went into the batch just made: one more press of the key when it was as shown."""

    HEADING = "What went into this batch?"
    EXPLAINS = "Blank is as shown. F8 saves from every field, Enter from the last."
    BESIDE = "shown"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f8", "save", "Save"),
        Binding("escape", "leave", "Log nothing"),
    ]

    @property
    def stops(self) -> list[Widget]:
        """Only kilograms; nobody is asked why."""
        return list(self.fields)

    def action_save(self) -> None:
        """Save what is typed, the rest as shown."""
        self.take()

    def take(self) -> None:
        """Return the kilograms of every feeder."""
        added, problems = self.typed()
        self.answer({one.feeder: one.kg for one in self.additions} | added, problems)
