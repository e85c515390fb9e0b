"""Keys that were pressed while the window was too small to show what they do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from sandlab.screens.base import key_name
from sandlab.screens.modals import Panel

SHOWN = 60


class HeldKeys(Panel[bool]):
    """Returns whether they are to act now."""

    HEADING = "Typed while the window was too small"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f6,plus,add", "agree", "Let them act"),
        Binding("escape", "leave", "Forget them"),
    ]

    def __init__(self, held: Sequence[events.Key]) -> None:
        super().__init__()
        self.held = held

    def content(self) -> ComposeResult:
        """The keys in their order."""
        names = " ".join(
            one.character if one.is_printable and one.character else key_name(one.key)
            for one in self.held[:SHOWN]
        )
        more = f" and {len(self.held) - SHOWN} more" if len(self.held) > SHOWN else ""
        yield Static(f"{names}{more}", classes="words", markup=False)
        yield Static("They have done nothing yet. Shall they act now, where the cursor is?", classes="words")

    def action_agree(self) -> None:
        """Yes."""
        self.dismiss(True)

    def action_leave(self) -> None:
        """No."""
        self.dismiss(False)
