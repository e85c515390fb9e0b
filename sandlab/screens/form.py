"""The form of one test set: its fields, the line that saves, and when and why the sample was taken."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import TYPE_CHECKING, ClassVar, cast

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from sandlab.errors import impossible
from sandlab.labels import FieldLabel
from sandlab.screens.ahead import is_digit
from sandlab.screens.fields import Field

if TYPE_CHECKING:
    from textual.widgets import Input

    from sandlab.lab.drafts import DraftSet
    from sandlab.lab.entry import Entry
    from sandlab.lab.facts import FieldFacts
    from sandlab.screens.tests_screen import TestsScreen


YESTERDAY = timedelta(hours=12)
"""A time of day later than now is yesterday's when it is at most that long ago: 23:55 typed at 0:10."""


class SaveLine(Static, can_focus=True):
    """The last stop of the form: Enter here saves."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "screen.save_sample", "Save")]

    def take(self, event: events.Key) -> bool:
        """A number typed past the last field must not vanish unseen."""
        if not is_digit(event):
            return False
        cast("TestsScreen", self.screen).say("No field takes a number here. Up goes back to the fields.")
        return True


class SetForm(Vertical):
    """One test set, or every property for a sample outside the schedule.

    Names, number fields and verdicts stand in three columns, so that the first frame has few widgets to
    style; the time and the note are added after it.
    """

    def __init__(self, test_set: str, title: str, labels: Sequence[FieldLabel], *, point: str = "") -> None:
        super().__init__(id=f"set-{test_set}", classes="set")
        self.test_set = test_set
        self.title = title
        self.point = point
        self.fields = [Field(label) for label in labels]
        self.verdicts = Static(id="verdicts")
        self.save_line = SaveLine(id="save")
        self.extras: tuple[Input, Input] | None = None
        self.sample = ""
        self.begun: datetime | None = None

    def compose(self) -> ComposeResult:
        """The fields in the set's order, then the save line."""
        with Horizontal(id="fields"):
            yield Static(Content("\n".join(field.label.label for field in self.fields)), id="names")
            yield Vertical(*(field.input for field in self.fields), id="inputs")
            yield self.verdicts
        yield self.save_line

    def on_mount(self) -> None:
        """Units at once, judgements later."""
        self.show()

    def add_extras(self) -> None:
        """The line that is rarely needed."""
        if self.extras is None:
            from sandlab.screens.text_field import TextField

            taken = TextField(restrict=r"[\d:.,\- ]{0,16}", placeholder="now", id="taken")
            note = TextField(max_length=200, id="note")
            names = Static("Taken at", id="taken-name"), Static(" Note ", id="note-name")
            self.mount(Horizontal(names[0], taken, names[1], note, id="extras"))
            self.extras = taken, note

    def know(self, point: str, title: str, fields: Sequence[FieldFacts]) -> None:
        """Take the expectations; typed texts stay."""
        self.point, self.title = point, title
        known = {facts.property: facts for facts in fields}
        for field in self.fields:
            if field.label.property in known:
                field.know(known[field.label.property])
        self.add_extras()
        self.show()

    def show(self) -> None:
        """Write every verdict, and what Enter would save."""
        width = self.verdicts.size.width
        self.verdicts.update(Content("\n").join(field.line(width) for field in self.fields))
        self.save_line.update(f"  {self.save_words()}")

    def save_words(self) -> str:
        """What Enter on the save line would do."""
        filled = self.filled()
        if not filled:
            return "nothing typed yet"
        wrong = sum(field.impossible for field in self.fields)
        if wrong:
            return f"{wrong} of {filled} value{'s' if filled > 1 else ''} impossible: correct first"
        return f"Enter saves {filled} value{'s' if filled > 1 else ''}"

    def stops(self) -> list[Widget]:
        """Where Enter and the arrows lead, in order."""
        return [*(field.input for field in self.fields), self.save_line, *(self.extras or ())]

    def field_of(self, widget: Widget | None) -> Field | None:
        """The field an input belongs to."""
        return next((field for field in self.fields if field.input is widget), None)

    def filled(self) -> int:
        """How many fields are filled."""
        return sum(bool(field.text) for field in self.fields)

    def half_typed(self) -> bool:
        """Whether something would be lost by leaving."""
        return bool(self.filled() or self.note)

    def draft(self, now: datetime) -> DraftSet | None:
        """What is half typed, under the id that the sample will have; None when nothing is."""
        from sandlab.lab.drafts import DraftSet
        from sandlab.lab.opening import new_uuid

        if not self.half_typed():
            self.sample, self.begun = "", None
            return None
        self.sample, self.begun = self.sample or new_uuid(), self.begun or now
        return DraftSet(
            sample=self.sample,
            test_set=self.test_set,
            point=self.point,
            title=self.title,
            begun=self.begun,
            taken=self.taken,
            note=self.note,
            entries=tuple(self.entries()),
        )

    def take_up(self, draft: DraftSet, taken: str) -> list[Entry]:
        """Show what was half typed before; entries whose field is not here any more are given back."""
        self.sample, self.begun = draft.sample, draft.begun
        fields = {field.label.property: field for field in self.fields}
        for entry in draft.entries:
            if entry.property in fields:
                fields[entry.property].take_up(entry)
        self.add_extras()
        for extra, text in zip(self.extras or (), (draft.taken or taken, draft.note), strict=True):
            extra.value = text
        self.show()
        return [entry for entry in draft.entries if entry.property not in fields]

    def first_wrong(self, where: Sequence[str]) -> Widget | None:
        """Where the cursor belongs after a refusal: the first impossible field, or the one named."""
        for field in self.fields:
            if field.impossible or any(words.startswith(field.label.label) for words in where):
                return field.input
        if self.extras and any(words.lower().startswith("taken") for words in where):
            return self.extras[0]
        return None

    @property
    def taken(self) -> str:
        """What is typed for the time; blank means now."""
        return self.extras[0].value if self.extras else ""

    @property
    def note(self) -> str:
        """What is typed for the next shift."""
        return self.extras[1].value.strip() if self.extras else ""

    def entries(self) -> list[Entry]:
        """What is to be saved."""
        return [entry for field in self.fields if (entry := field.entry()) is not None]

    def clear(self) -> None:
        """Make the form blank for the next sample."""
        for field in self.fields:
            field.clear()
        for extra in self.extras or ():
            extra.value = ""
        self.sample, self.begun = "", None
        self.show()


def taken_at(text: str, now: datetime, zone: tzinfo) -> datetime | None:
    """When the sample was taken, from `14:05`, `1405`, `14.05`, `2026-03-04 14:05`; None when blank: now."""
    typed = re.sub(r"[.,]", ":", text.strip())
    typed = re.sub(r"(?<![\d-])(\d\d?)(\d\d)$", r"\1:\2", typed)  # a keypad has no colon
    if not typed:
        return None
    today = now.astimezone(zone).date()
    for pattern in ("%H:%M", "%Y-%m-%d %H:%M"):
        try:
            read = datetime.strptime(typed, pattern)  # noqa: DTZ007 - put into the plant's zone below
        except ValueError:
            continue
        if not re.search(r":\d\d$", typed):  # 14.5 may be meant as 14:05, 14:30 or 14:50
            break
        if "%Y" in pattern:
            return _moment(read.date(), read.time(), now, zone)
        taken, before = (_moment(today - timedelta(days=days), read.time(), now, zone) for days in (0, 1))
        return before if taken > now and now - before <= YESTERDAY else taken
    raise impossible(
        "Taken at", f"'{text.strip()}' is not a time", "write it as 14:05 or 1405, or as 2026-03-04 14:05"
    )


def _moment(day: date, at: time, now: datetime, zone: tzinfo) -> datetime:
    """A wall-clock time; one that was there twice is the later, unless that is still to come."""
    first, second = (
        datetime.combine(day, at.replace(fold=fold), tzinfo=zone).astimezone(UTC) for fold in (0, 1)
    )
    if second < first:
        from sandlab.lab.wall_clock import moment_of

        return moment_of(f"{datetime.combine(day, at):%Y-%m-%dT%H:%M}", zone, where="Taken at")
    return second if second <= now else first
