"""One of several names, chosen with the arrows or by its first letters."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from sandlab.screens.base import styled
from sandlab.screens.cells import PickList
from sandlab.screens.modals import Panel


class Choose(Panel[str | None]):
    """Returns the name chosen."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "Back")]

    def __init__(self, title: str, names: Sequence[str], labels: Sequence[str]) -> None:
        super().__init__()
        self.asked = title
        self.names = names
        self.labels = labels
        self.typed = ""

    def heading(self) -> str:
        """The title given."""
        return self.asked

    def content(self) -> ComposeResult:
        """The list, and how letters help."""
        yield PickList(id="choices")
        yield Static(styled(("Letters jump to a name.", "$muted")), id="choices-help")

    def on_mount(self) -> None:
        """Fill the list."""
        choices = self.query_one(PickList)
        choices.fill([Content(f" {label}") for label in self.labels])
        choices.focus()

    def on_key(self, event: events.Key) -> None:
        """Letters typed one after the other lead to the first name that begins so."""
        if event.character is None or not event.character.isprintable() or not self.labels:
            return
        for typed in (self.typed + event.character.lower(), event.character.lower()):
            found = [place for place, one in enumerate(self.labels) if one.lower().startswith(typed)]
            if found:
                self.typed = typed
                self.query_one(PickList).fill(self.query_one(PickList).lines, at=found[0])
                return
        self.typed = ""

    def on_pick_list_picked(self, event: PickList.Picked) -> None:
        """Take it."""
        self.dismiss(self.names[event.at])
