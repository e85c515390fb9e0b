"""Keys that were pressed before what they do could be seen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from sandlab.screens.modals import Panel, key_names

SHOWN = 60


class HeldKeys(Panel[bool]):
    """Returns whether they are to act now."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f6,plus,add", "agree", "Let them act"),
        Binding("escape", "leave", "Forget them"),
    ]

    def __init__(self, held: Sequence[events.Key], heading: str) -> None:
        super().__init__()
        self.held = held
        self.asked = heading

    def heading(self) -> str:
        """When they were typed."""
        return self.asked

    def holds(self, event: events.Key) -> bool:
        """What still comes of them is asked about with them, or next."""
        return self.holds_early(event)

    def content(self) -> ComposeResult:
        """The keys in their order."""
        names = key_names(self.held[:SHOWN])
        more = f" and {len(self.held) - SHOWN} more" if len(self.held) > SHOWN else ""
        yield Static(f"{names}{more}", classes="words", markup=False)
        yield Static("They have done nothing yet. Shall they act now, where the cursor is?", classes="words")

    def action_agree(self) -> None:
        """Yes."""
        self.dismiss(True)

    def action_leave(self) -> None:
        """No."""
        self.dismiss(False)
