"""How the value under the cursor came about, in a box."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from sandlab.lab.explaining import explain
from sandlab.lab.facts import ExplainedFacts, ExplanationFacts
from sandlab.labels import inside
from sandlab.screens.base import Part, station, styled
from sandlab.screens.modals import Panel

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab

SHOWN = 12
"""Readings that fit the smallest window."""


class Explained(Panel[None]):
    """Readings, method, source, the specs of then, and the value computed once more."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter,escape", "leave", "Back")]

    def __init__(self, sample: str, property: str, label: str) -> None:
        super().__init__()
        self.sample, self.property, self.label = sample, property, label

    def heading(self) -> str:
        """Which value."""
        return f"How {inside(self.label)} came about"

    def content(self) -> ComposeResult:
        """Filled as soon as the lab has computed."""
        yield Static("computing once more", id="explained", classes="words")

    def on_mount(self) -> None:
        """Have it explained."""

        def work(lab: Lab) -> ExplanationFacts:
            return explain(lab, self.sample, self.property)

        station(self).desk.ask(self, work, lambda facts: self.know(facts.results[0]))

    def know(self, one: ExplainedFacts) -> None:
        """Show it."""
        self.query_one("#explained", Static).update(styled(*explained_parts(one)))


def explained_parts(one: ExplainedFacts) -> list[Part | str]:
    """The value, then what it was computed from and how."""
    parts: list[Part | str] = [(one.words, "bold"), "\n"]
    if one.method_label:
        parts += [f"{one.method_label}; formula {one.formula.replace('_', ' ')}.\n"]
        parts += [(f"{one.source}\n", "$muted")]
    repeated = any(each.repeat > 1 for each in one.inputs)
    for each in one.inputs[:SHOWN]:
        repeat = f"  repeat {each.repeat}" if repeated else ""
        parts.append(f"  {each.label:<30}{each.text:>10} {each.unit:<6}{repeat}\n")
    if len(one.inputs) > SHOWN:
        parts.append((f"  and {len(one.inputs) - SHOWN} more: sandlab explain\n", "$muted"))
    parts += [(f"  {name.replace('_', ' ')} = {value}\n", "$muted") for name, value in one.constants.items()]
    parts.append((f"specs {one.specs_hash[:12]}", "$muted"))
    return parts
