"""A line for free text."""

from __future__ import annotations

from typing import ClassVar

from textual import events
from textual.binding import BindingType
from textual.widgets import Input

from sandlab.screens.number_field import STOPS


class TextField(Input):
    """One line; the arrows and page keys belong to the screen around it."""

    DEFAULT_CSS = """
    TextField { background: $field; color: $ink; height: 1; border: none; padding: 0 1; }
    TextField > .input--cursor { background: $ground; color: $ink; text-style: reverse; }
    TextField > .input--placeholder { color: $muted; }
    TextField:focus { background: $ink; color: $ground; border: none; }
    TextField:focus > .input--cursor { background: $ground; color: $ink; text-style: none; }
    TextField:focus > .input--placeholder { color: $ground; }
    """
    BINDINGS: ClassVar[list[BindingType]] = STOPS

    def __init__(
        self,
        value: str = "",
        *,
        id: str,
        placeholder: str = "",
        restrict: str | None = None,
        max_length: int = 0,
    ) -> None:
        super().__init__(
            value, id=id, placeholder=placeholder, restrict=restrict, max_length=max_length, compact=True
        )

    def take(self, event: events.Key) -> bool:
        """Take a character at once, in the order of the keys."""
        if not event.is_printable or event.character is None:
            return False
        self.replace(event.character, *self.selection)
        return True
