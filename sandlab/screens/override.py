"""The operator runs other kilograms than released: which, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widgets import Static

from sandlab.errors import InputError, Problem
from sandlab.lab.facts import AdditionFacts
from sandlab.quantities import parse_number
from sandlab.screens.modals import Panel, problem_words
from sandlab.screens.number_field import NumberField
from sandlab.screens.text_field import TextField


@dataclass(frozen=True, slots=True)
class OtherKg:
    """What is run instead; feeders not named stay as released."""

    added_kg: dict[str, float]
    reason: str


class Override(Panel[OtherKg | None]):
    """A field per material and one for the reason; Enter moves on, on the reason it saves."""

    HEADING = "Which kilograms do you run, and why?"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Keep the released"),
    ]

    def __init__(self, additions: Sequence[AdditionFacts]) -> None:
        super().__init__()
        self.additions = additions
        self.fields = [NumberField(id=one.feeder) for one in additions]
        self.reason = TextField(max_length=200, id="reason")

    def content(self) -> ComposeResult:
        """The released kilograms beside a blank field each."""
        yield Static(
            "Blank keeps what is released. Enter moves on; Enter on the reason saves.", classes="words"
        )
        for one, field in zip(self.additions, self.fields, strict=True):
            with Horizontal(classes="line"):
                yield Static(f"{one.label}", classes="name")
                yield field
                yield Static(f" kg, released {one.text}", classes="rest")
        with Horizontal(classes="line"):
            yield Static("Reason", classes="name")
            yield self.reason
        yield Static("", classes="words", id="problems")

    def action_enter(self) -> None:
        """Move on; on the reason, save."""
        if self.focused is self.reason:
            self.take()
        else:
            self.action_move(1)

    def action_move(self, by: int) -> None:
        """The arrows go through the fields."""
        stops = [*self.fields, self.reason]
        at = stops.index(self.focused) + by if self.focused in stops else 0
        self.set_focus(stops[max(0, min(at, len(stops) - 1))])

    def take(self) -> None:
        """Return what was typed, or say what is wrong with it."""
        added: dict[str, float] = {}
        problems: list[Problem] = []
        for one, field in zip(self.additions, self.fields, strict=True):
            if field.value.strip():
                try:
                    added[one.feeder] = parse_number(field.value, where=one.label).value
                except InputError as error:
                    problems += error.problems
        if not added and not problems:
            problems.append(
                Problem("kilograms", "nothing is typed", "type the kilograms you run, or press Esc")
            )
        if not self.reason.value.strip():
            problems.append(Problem("reason", "is empty", "say why you run other kilograms"))
        if problems:
            self.query_one("#problems", Static).update(problem_words(problems))
        else:
            self.dismiss(OtherKg(added, self.reason.value.strip()))
