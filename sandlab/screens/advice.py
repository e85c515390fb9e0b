"""The computed additions: what each is made of, what they rest on, and one key to release them."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from sandlab.lab.advising import advise, release
from sandlab.lab.facts import AdditionFacts, AdviceFacts, MullerFacts
from sandlab.quantities import format_number
from sandlab.screens.base import Part, short_name, station, styled
from sandlab.screens.modals import Panel

if TYPE_CHECKING:
    from sandlab.lab.opening import Lab


class Advice(Panel[str | None]):
    """Computes when it opens; returns what was done, in words."""

    HEADING = "Additions for the next batches"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Back, release nothing"),
        Binding("f6", "release", "Release to the muller"),
        Binding("down", "scroll(1)", "More", show=False),
        Binding("up", "scroll(-1)", "Back up", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.facts: AdviceFacts | None = None
        self.top = 0

    def content(self) -> ComposeResult:
        """One text, scrolled with the arrows where the screen is low."""
        yield Static("working it out", id="advice-text")
        yield Static("", id="advice-note")

    def on_mount(self) -> None:
        """Compute."""
        by = station(self).technician

        def work(lab: Lab) -> AdviceFacts:
            return advise(lab, by=by)

        station(self).desk.ask(self, work, self.know, failed=lambda error: station(self).trouble(error))

    def know(self, facts: AdviceFacts) -> None:
        """Show the facts."""
        self.facts = facts
        self.show()

    def show(self) -> None:
        """Write the lines in view."""
        if self.facts is None:
            return
        width = min(92, self.size.width - 4)
        lines = advice_lines(self.facts, width, station(self).mark)
        room = self.size.height - 7
        self.top = max(0, min(self.top, len(lines) - room))
        shown = lines[self.top : self.top + room]
        if self.top + room < len(lines):
            shown[-1] = styled((f"Down: {len(lines) - self.top - room + 1} more lines", "$muted"))
        self.query_one("#advice-text", Static).update(Content("\n").join(shown))
        self.query_one("#advice-note", Static).update(styled((facts_note(self.facts), "$watch")))

    def on_resize(self) -> None:
        """Fit the lines."""
        self.show()

    def action_scroll(self, by: int) -> None:
        """More lines."""
        self.top += by
        self.show()

    def action_release(self) -> None:
        """Let the muller screen show it."""
        if self.facts is None or self.facts.released:
            return
        name, by = self.facts.recommendation, station(self).technician

        def work(lab: Lab) -> MullerFacts:
            return release(lab, recommendation=name, by=by)

        station(self).desk.ask(self, work, self.released)

    def released(self, facts: MullerFacts) -> None:
        """Say what the muller screen shows now."""
        kilograms = ", ".join(f"{short_name(one.label).lower()} {one.text}" for one in facts.additions)
        self.dismiss(f"Released. The muller screen says {facts.word}: {kilograms} kg per batch.")


def facts_note(facts: AdviceFacts) -> str:
    """Whose decision it is, always in view."""
    return facts.advice_note.split(":")[0]


def advice_lines(facts: AdviceFacts, width: int, mark: str) -> list[Content]:
    """The advice as lines: kilograms with their parts, the reason, the evidence, the caution."""
    lines = [styled((line, "bold")) for line in wrap(facts.sentence, width)] + [Content("")]
    for one in facts.additions:
        lines += addition_lines(one, width, mark)
    lines += [Content("")]
    for words in facts.reasons:
        lines += [Content(line) for line in wrap(f"- {words}", width, subsequent_indent="  ")]
    lines += [Content(""), styled(("It rests on", "bold"))]
    for item in facts.evidence:
        lines.append(styled(f"  {item.label:<28}{item.text:>7} {item.unit:<5} ", (item.words, "$muted")))
    lines += [Content("")] + [styled((line, "$watch")) for line in wrap(facts.advice_note, width)]
    return lines


def addition_lines(one: AdditionFacts, width: int, mark: str) -> list[Content]:
    """One material: kilograms, change, and the parts they are made of."""

    def signed(value: float) -> str:
        return ("+" if value > 0 else "") + format_number(value, one.decimals, mark=mark)

    name, _, which = one.label.partition(", ")
    parts: list[Part | str] = [f"{name:<16}", (f"{one.text:>7} kg", "bold")]
    parts.append(
        (
            f"  {one.change_text + ' kg' if one.change_kg else 'as now':<10}",
            "$watch" if one.change_kg else "$muted",
        )
    )
    made_of = [
        f"{name.replace('_', ' ')} {signed(kg)}"
        for name, kg in one.parts_kg.items()
        if signed(kg).strip("+-0.,")
    ]
    lines = [styled(*parts, (which, "$muted"))]
    words = ", ".join(made_of)
    for line in wrap(f"= {words}" if words else "", width - 4):
        lines.append(styled((f"    {line}", "$muted")))
    if one.binds:
        lines.append(styled((f"    held by: {one.binds}", "$watch")))
    return lines
