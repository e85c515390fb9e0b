"""One property of the entry form: its number field, and what the typed value means."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from sandlab.labels import FieldLabel
from sandlab.quantities import format_number
from sandlab.screens.base import Part, ago, state_parts, station, styled
from sandlab.screens.look import role_style
from sandlab.screens.number_field import NumberField

if TYPE_CHECKING:
    from sandlab.lab.entry import Entry
    from sandlab.lab.facts import FieldFacts, JudgementFacts, OfferFacts

UNIT_WIDTH, STATE_WIDTH, SCALE_WIDTH = 7, 23, 24


class Field:
    """One property of a form: its label, its input, and what the typed value means."""

    def __init__(self, label: FieldLabel) -> None:
        self.label = label
        self.facts: FieldFacts | None = None
        self.judgement: JudgementFacts | None = None
        self.readings: Entry | None = None
        self.offer: OfferFacts | None = None
        self.input = NumberField(id=label.property)

    @property
    def text(self) -> str:
        """What stands in the field."""
        return self.input.value.strip()

    def know(self, facts: FieldFacts) -> None:
        """Take what is expected of this property, and judge what was typed before it was known."""
        self.facts = facts
        if self.readings is None:
            self.judge()

    def typed(self) -> None:
        """The person changed the text: it is no longer the result of readings."""
        self.readings = None
        self.judge()

    def compute_into(self, entry: Entry, judgement: JudgementFacts, text: str) -> None:
        """Show the result of raw readings."""
        self.input.write(text)
        self.readings, self.judgement = entry, judgement

    def clear(self) -> None:
        """Make the field blank."""
        self.input.write("")
        self.typed()

    def take_up(self, entry: Entry) -> None:
        """Show what was half typed before; the result of readings stays one."""
        self.input.write(entry.text)
        self.readings = entry if entry.method else None
        self.judge()

    def entry(self) -> Entry | None:
        """What is to be saved, None when blank; of readings the text shown is kept beside them."""
        from sandlab.lab.entry import Entry

        if not self.text:
            return None
        readings = self.readings
        return Entry(
            property=self.label.property,
            text=self.text,
            method=readings.method if readings else "",
            readings=readings.readings if readings else (),
        )

    @property
    def impossible(self) -> bool:
        """Whether what is typed cannot be saved."""
        return self.judgement is not None and self.judgement.state == "impossible"

    def judge(self) -> None:
        """Judge the text as it stands."""
        if self.facts is not None:
            from sandlab.lab.judging import judge

            self.judgement = judge(self.facts, self.text, mark=station(self.input).mark)

    def line(self, width: int) -> Content:
        """The verdict: unit, state as mark and word, scale where there is room, the last value."""
        unit = f" {self.facts.unit if self.facts else self.label.unit}"
        if self.facts is None:
            return Content(unit)
        if self.offer is not None and not self.text:
            takes = f"Space takes {self.offer.text}"
            return styled(f"{unit:<{UNIT_WIDTH}}", (takes, "bold"), (f", {self.offer.label}", "$muted"))
        here = station(self.input)
        state: Part = ("", "")
        if self.judgement is not None and self.judgement.state != "not_measured":
            state = state_parts(self.judgement.state, here.glyphs)
        parts: list[Part | str] = [f"{unit:<{UNIT_WIDTH}}", state, " " * (STATE_WIDTH - len(state[0]))]
        if width > UNIT_WIDTH + STATE_WIDTH + SCALE_WIDTH + 15:
            parts += [*self.scale(SCALE_WIDTH), "  "]
        return styled(*parts, ("from readings" if self.readings else self.last_words(), "$muted"))

    def scale(self, width: int) -> list[Part]:
        """Target, tolerance, reaction limits and the typed value on one line."""
        from sandlab.drawing import entry_scale

        if self.facts is None:
            return []
        low, high = self.facts.tolerance or (None, None)
        reaction_low, reaction_high = self.facts.reaction or (None, None)
        runs = entry_scale(
            self.judgement.value if self.judgement else None,
            width=width,
            target=self.facts.target,
            tolerance_low=low,
            tolerance_high=high,
            reaction_low=reaction_low,
            reaction_high=reaction_high,
            glyphs=station(self.input).glyphs,
        )
        return [(text, role_style(role)) for text, role in runs]

    def last_words(self) -> str:
        """The last value."""
        if self.facts is None or self.facts.last_value is None:
            return ""
        mark = station(self.input).mark
        return f"last {format_number(self.facts.last_value, self.facts.decimals, mark=mark)}"

    def last_age(self) -> str:
        """How old the last value is."""
        return ago(self.facts.last_at, station(self.input).now()) if self.facts else ""
