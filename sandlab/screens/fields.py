"""The entry form's parts: an input that takes only numbers, and a row with a field and its judgement."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.message import Message
from textual.widgets import Input, Static

from sandlab.labels import FieldLabel
from sandlab.quantities import format_number
from sandlab.screens.base import Part, ago, state_parts, station, styled
from sandlab.screens.look import word_style

if TYPE_CHECKING:
    from sandlab.lab.entry import Entry
    from sandlab.lab.facts import FieldFacts, JudgementFacts

NUMBER_SO_FAR = r"[<>]?\s*[-+]?\d{0,7}[.,]?\d{0,6}"
"""What may stand in a field while a number is being typed; it is parsed again when saved."""

KEYPAD = {"decimal": ".", "separator": ",", "subtract": "-"}
"""Names that some terminals give to keys of the numeric keypad."""

COMMAND_CHARACTERS = frozenset("*/+?")
"""Characters that are commands in a number field; they go on to the bindings."""


class StopInput(Input):
    """A line to type in; the arrows and page keys belong to the screen around it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "screen.move(1)", "Next field", show=False),
        Binding("up", "screen.move(-1)", "Field before", show=False),
        Binding("pagedown", "screen.turn(1)", "Set", tooltip="Next test set; the last has every property"),
        Binding("pageup", "screen.turn(-1)", "Set before", show=False),
        Binding("enter", "submit", "Next"),
    ]


class ValueInput(StopInput):
    """A field for one number."""

    class Rejected(Message):
        """A character was typed that no number has."""

    def __init__(self, **options: object) -> None:
        super().__init__(restrict=NUMBER_SO_FAR, compact=True, select_on_focus=False, **options)  # type: ignore[arg-type]

    def on_key(self, event: events.Key) -> None:
        """Pass command characters on, and take keypad keys by their other names."""
        if event.character in COMMAND_CHARACTERS:
            event.prevent_default()
        elif event.key in KEYPAD:
            event.prevent_default()
            event.stop()
            self.replace(KEYPAD[event.key], *self.selection)

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """Command characters are not typed, so their bindings are offered."""
        return character not in COMMAND_CHARACTERS and super().check_consume_key(key, character)

    def restricted(self) -> None:
        """Say it in words instead of ringing."""
        self.post_message(self.Rejected())


class FieldRow(Horizontal):
    """One property: its name, the input, and what the typed value means."""

    def __init__(self, label: FieldLabel) -> None:
        super().__init__(id=f"row-{label.property}")
        self.label = label
        self.facts: FieldFacts | None = None
        self.judgement: JudgementFacts | None = None
        self.readings: Entry | None = None
        self.input = ValueInput(id=label.property)
        self.verdict = Static(self.label.unit, classes="verdict")

    def compose(self) -> ComposeResult:
        """Name, input, verdict."""
        yield Static(self.label.label, classes="name")
        yield self.input
        yield self.verdict

    @property
    def text(self) -> str:
        """What stands in the field."""
        return self.input.value.strip()

    def know(self, facts: FieldFacts) -> None:
        """Take what is expected of this property, and judge what was typed before it was known."""
        self.facts = facts
        self.judge()

    def typed(self) -> None:
        """The person changed the text: it is no longer the result of readings."""
        self.readings = None
        self.judge()

    def compute_into(self, entry: Entry, judgement: JudgementFacts, text: str) -> None:
        """Show the result of raw readings."""
        with self.input.prevent(Input.Changed):
            self.input.value = text
        self.readings, self.judgement = entry, judgement
        self.show()

    def clear(self) -> None:
        """Make the field blank."""
        with self.input.prevent(Input.Changed):
            self.input.value = ""
        self.typed()

    def entry(self) -> Entry | None:
        """What is to be saved, None when blank."""
        from sandlab.lab.entry import Entry

        if not self.text:
            return None
        return self.readings or Entry(property=self.label.property, text=self.text)

    def judge(self) -> None:
        """Judge the text as it stands."""
        if self.facts is not None:
            from sandlab.lab.judging import judge

            self.judgement = judge(self.facts, self.text, mark=station(self).mark)
        self.show()

    def show(self) -> None:
        """Write the verdict: unit, state as mark and word, scale where there is room, the last value."""
        if self.facts is None:
            return
        parts: list[Part | str] = [f"{self.facts.unit:<7}"]
        width = 7
        if self.judgement is not None and self.judgement.state != "not_measured":
            part = state_parts(self.judgement.state, station(self).glyphs)
            parts.append(part)
            width += len(part[0])
        parts.append(" " * (30 - width))
        room = self.verdict.size.width - 30
        if room > 40:
            parts += [*self.scale(24), "  "]
        parts.append((self.last_words(), "$muted"))
        self.verdict.update(styled(*parts))

    def scale(self, width: int) -> list[Part]:
        """Target, tolerance, reaction limits and the typed value on one line."""
        from sandlab.drawing import entry_scale

        if self.facts is None:
            return []
        low, high = self.facts.tolerance or (None, None)
        reaction_low, reaction_high = self.facts.reaction or (None, None)
        frame = entry_scale(
            self.judgement.value if self.judgement else None,
            width=width,
            target=self.facts.target,
            tolerance_low=low,
            tolerance_high=high,
            reaction_low=reaction_low,
            reaction_high=reaction_high,
            glyphs=station(self).glyphs,
        )
        return [
            (run.text, word_style(run.role) if run.role == "alarm" else role_style(run.role))
            for run in frame.runs()[0]
        ]

    def last_words(self) -> str:
        """The last value."""
        if self.facts is None or self.facts.last_value is None:
            return ""
        return f"last {format_number(self.facts.last_value, self.facts.decimals, mark=station(self).mark)}"

    def last_age(self) -> str:
        """How old the last value is."""
        return ago(self.facts.last_at, station(self).now()) if self.facts else ""


def role_style(role: str) -> str:
    """The style of a drawn cell of that role."""
    return "" if role == "blank" else f"${role}"
