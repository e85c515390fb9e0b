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

NO_USE_WHEN_BLANK = ("left", "right", "home", "end", "delete")
"""What the keypad sends instead of 4, 6, 7, 1 and the decimal mark while NumLock is off."""

KEYPAD = {"decimal": ".", "separator": ",", "subtract": "-"}
"""Names that some terminals give to keys of the numeric keypad."""

COMMAND_CHARACTERS = frozenset("*/+?")
"""Characters that are commands here; they go on to the bindings."""

STOPS: list[BindingType] = [
    Binding("enter", "screen.enter", "Next"),
    Binding("down", "screen.move(1)", "Next field", show=False),
    Binding("up", "screen.move(-1)", "Field before", show=False),
    Binding(
        "pagedown",
        "screen.turn(1)",
        "Set",
        tooltip="Next test set, the last has all; PgUp: the one before",
    ),
    Binding("pageup", "screen.turn(-1)", "Set before", show=False),
]
"""Enter, arrows and page keys belong to the screen around a field."""


class NumberField(Widget, can_focus=True):
    """Takes every character but the commands; a text longer than any number is refused whole."""

    BINDINGS: ClassVar[list[BindingType]] = STOPS

    class Changed(Message):
        """The text is another one now."""

        def __init__(self, field: NumberField) -> None:
            super().__init__()
            self.field = field

    class Rejected(Changed):
        """The text would be longer than any number."""

    class Moved(Changed):
        """A key for moving in a text came where there is no text."""

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

    def take(self, event: events.Key) -> bool:
        """Take what can be typed, and the keys that edit it; all others are left to the bindings."""
        typed = KEYPAD.get(event.key) or (event.character if event.is_printable else None)
        if typed and not self.is_command(typed):
            self._insert(typed)
            return True
        return self._edit(event.key)

    def _edit(self, key: str) -> bool:
        """Move in the text, or delete from it."""
        if key in NO_USE_WHEN_BLANK and not self.value:
            self.post_message(self.Moved(self))
            return True
        moves = {"left": -1, "right": 1, "home": -LONGEST, "end": LONGEST}
        if key in moves:
            self.place = max(0, min(self.place + moves[key], len(self.value)))
            self.refresh()
        elif key in ("backspace", "delete"):
            self._delete(self.place - (key == "backspace"))
        elif key == "ctrl+u":
            self._change("", 0)
        else:
            return False
        return True

    def _delete(self, at: int) -> None:
        if 0 <= at < len(self.value):
            self._change(self.value[:at] + self.value[at + 1 :], at)

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """Command characters are not typed, so their bindings are offered."""
        return character is not None and character.isprintable() and not self.is_command(character)

    def is_command(self, character: str) -> bool:
        """Whether a character is a command here, as a blank is in a blank field."""
        return character in COMMAND_CHARACTERS or (character == " " and not self.value)

    def on_paste(self, event: events.Paste) -> None:
        """Take a pasted number."""
        event.stop()
        self._insert(event.text.strip())
