"""The form of one test set: its fields, the line that saves, and when and why the sample was taken."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static

from sandlab.errors import impossible
from sandlab.labels import FieldLabel
from sandlab.screens.fields import FieldRow, StopInput

if TYPE_CHECKING:
    from sandlab.lab.entry import Entry
    from sandlab.lab.facts import FieldFacts


class SaveLine(Static, can_focus=True):
    """The last stop of the form: Enter here saves."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "save", "Save")]

    class Chosen(Message):
        """Enter was pressed on the line."""

    def action_save(self) -> None:
        """Ask for the sample to be saved."""
        self.post_message(self.Chosen())

    def count(self, filled: int) -> None:
        """Say what Enter would save."""
        words = (
            "nothing typed yet" if not filled else f"Enter saves {filled} value{'s' if filled > 1 else ''}"
        )
        self.update(f"  {words}")


class SetForm(Vertical):
    """One test set, or every property for a sample outside the schedule."""

    def __init__(self, test_set: str, title: str, labels: Sequence[FieldLabel], *, point: str = "") -> None:
        super().__init__(id=f"set-{test_set}", classes="set")
        self.test_set = test_set
        self.title = title
        self.point = point
        self.rows = [FieldRow(label) for label in labels]
        self.save_line = SaveLine(id="save")
        self.taken = StopInput(restrict=r"[\d:\- ]{0,16}", placeholder="now", compact=True, id="taken")
        self.note = StopInput(max_length=200, compact=True, id="note")

    def compose(self) -> ComposeResult:
        """The fields in the set's order, then the save line, then what is rarely needed."""
        yield from self.rows
        yield self.save_line
        with Horizontal(id="extras"):
            yield Static("Taken at", classes="name")
            yield self.taken
            yield Static(" Note ", id="note-name")
            yield self.note

    def on_mount(self) -> None:
        """Say what is to be saved."""
        self.count()

    def know(self, point: str, title: str, fields: Sequence[FieldFacts]) -> None:
        """Take the expectations; typed texts stay."""
        self.point, self.title = point, title
        known = {facts.property: facts for facts in fields}
        for row in self.rows:
            if row.label.property in known:
                row.know(known[row.label.property])

    def stops(self) -> list[Widget]:
        """Where Enter and the arrows lead, in order."""
        return [*(row.input for row in self.rows), self.save_line, self.taken, self.note]

    def row_of(self, widget: Widget | None) -> FieldRow | None:
        """The row an input belongs to."""
        return next((row for row in self.rows if row.input is widget), None)

    def count(self) -> int:
        """How many fields are filled; the save line says so."""
        filled = sum(bool(row.text) for row in self.rows)
        self.save_line.count(filled)
        return filled

    def half_typed(self) -> bool:
        """Whether something would be lost by leaving."""
        return any(row.text for row in self.rows) or bool(self.note.value.strip())

    def entries(self) -> list[Entry]:
        """What is to be saved."""
        return [entry for row in self.rows if (entry := row.entry()) is not None]

    def clear(self) -> None:
        """Make the form blank for the next sample."""
        for row in self.rows:
            row.clear()
        self.taken.value = self.note.value = ""
        self.count()


def taken_at(text: str, now: datetime, zone: tzinfo) -> datetime | None:
    """When the sample was taken, from `14:05` (today) or `2026-03-04 14:05`; None when blank: now."""
    typed = text.strip()
    if not typed:
        return None
    local = now.astimezone(zone)
    for pattern, day in (("%H:%M", local.date()), ("%Y-%m-%d %H:%M", None)):
        try:
            read = datetime.strptime(typed, pattern)  # noqa: DTZ007 - put into the plant's zone below
        except ValueError:
            continue
        return datetime.combine(day or read.date(), read.time(), tzinfo=zone)
    raise impossible("Taken at", f"'{typed}' is not a time", "write it as 14:05, or as 2026-03-04 14:05")
