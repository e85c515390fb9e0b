"""A line for one number.

What is typed stands as it was typed and is judged: a field that dropped the second decimal mark of 4.1.2, or
the letter of 1e9, would turn it into another number unseen.

It is small and of its own kind because the first frame has many: a general input takes twice as long.
"""

from __future__ import annotations

from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.widget import Widget

LONGEST = 12
"""No typed value has more characters."""

KEYPAD = {"decimal": ".", "separator": ",", "subtract": "-"}
"""Names that some terminals give to keys of the numeric keypad."""

COMMAND_CHARACTERS = frozenset("*/+?")
"""Characters that are commands here; they go on to the bindings."""

STOPS: list[BindingType] = [
    Binding("enter", "submit", "Next"),
    Binding("down", "screen.move(1)", "Next field", show=False),
    Binding("up", "screen.move(-1)", "Field before", show=False),
    Binding("pagedown", "screen.turn(1)", "Set", tooltip="Next test set; the last has every property"),
    Binding("pageup", "screen.turn(-1)", "Set before", show=False),
]
"""The arrows and page keys belong to the screen around a field."""


class NumberField(Widget, can_focus=True):
    """Takes every character but the commands; a text longer than any number is refused whole."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *STOPS,
        Binding("left", "cursor(-1)", "Left", show=False),
        Binding("right", "cursor(1)", "Right", show=False),
        Binding("home", "cursor(-99)", "Start", show=False),
        Binding("end", "cursor(99)", "End", show=False),
        Binding("backspace", "delete(-1)", "Delete left", show=False),
        Binding("delete", "delete(0)", "Delete", show=False),
        Binding("ctrl+u", "clear", "Clear", show=False),
    ]

    class Changed(Message):
        """The text is another one now."""

        def __init__(self, field: NumberField) -> None:
            super().__init__()
            self.field = field

    class Submitted(Changed):
        """Enter was pressed."""

    class Rejected(Changed):
        """The text would be longer than any number."""

    def __init__(self, value: str = "", *, id: str | None = None) -> None:
        super().__init__(id=id, classes="number")
        self.value = value
        self.place = len(value)

    def render(self) -> Content:
        """The text, with the cell of the cursor reversed."""
        content = Content(f"{self.value} ")
        return content.stylize("reverse", self.place, self.place + 1) if self.has_focus else content

    def write(self, value: str) -> None:
        """Set the text from the program, unseen by whoever follows the typing."""
        self.value, self.place = value, len(value)
        self.refresh()

    def _change(self, value: str, place: int) -> None:
        if len(value) > LONGEST:
            self.post_message(self.Rejected(self))
            return
        self.value, self.place = value, place
        self.refresh()
        self.post_message(self.Changed(self))

    def _insert(self, text: str) -> None:
        self._change(self.value[: self.place] + text + self.value[self.place :], self.place + len(text))

    def on_key(self, event: events.Key) -> None:
        """Take what can be typed; command characters and other keys go on to the bindings."""
        typed = KEYPAD.get(event.key) or (event.character if event.is_printable else None)
        if typed and typed not in COMMAND_CHARACTERS:
            event.stop()
            event.prevent_default()
            self._insert(typed)

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """Command characters are not typed, so their bindings are offered."""
        return character is not None and character.isprintable() and character not in COMMAND_CHARACTERS

    def on_paste(self, event: events.Paste) -> None:
        """Take a pasted number."""
        event.stop()
        self._insert(event.text.strip())

    def action_cursor(self, by: int) -> None:
        """Move the cursor."""
        self.place = max(0, min(self.place + by, len(self.value)))
        self.refresh()

    def action_delete(self, offset: int) -> None:
        """Delete the character before the cursor, or the one under it."""
        at = self.place + offset
        if 0 <= at < len(self.value):
            self._change(self.value[:at] + self.value[at + 1 :], at)

    def action_clear(self) -> None:
        """Make it blank."""
        self._change("", 0)

    def action_submit(self) -> None:
        """Enter."""
        self.post_message(self.Submitted(self))
