"""Keys in the order they were typed: each acts before the next is looked at, none on what was not seen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from textual import events
from textual.app import App

if TYPE_CHECKING:
    from sandlab.screens.base import LabScreen
    from sandlab.screens.modals import Panel

WHILE_SMALL = frozenset({"f9", "ctrl+q", "ctrl+l"})
"""Keys that act at once even when the window is too small to show what the others would do."""

LINE_FEED = "ctrl+j"
"""What Enter sends when it was pressed before the terminal was taken over."""

PASTED = frozenset("0123456789.,-< ")
"""What pasted lines may hold: anything else could be a command."""


class KeysInOrder(App[int]):
    """An application in which no key overtakes another or acts on what its typist has not seen."""

    def __init__(self) -> None:
        super().__init__()
        self.waiting: list[events.Key] = []
        self.aside: list[events.Key] = []

    async def on_event(self, event: events.Event) -> None:
        """Every key acts before the next is looked at, and waits while no field can take it.

        The toolkit hands a key to the field in focus and looks at the next one meanwhile: typed fast, the
        first digit of the next value would still land in the field that Enter leaves.
        """
        if isinstance(event, events.AppBlur):
            return  # a window in the background keeps its cursor, so a key never finds no field
        if isinstance(event, events.Paste) and (keys := self._pasted(event.text)):
            for key in keys:
                key.time = event.time
                await self._typed(key)
        elif isinstance(event, events.Key) and not event.is_forwarded:
            await self._typed(events.Key("enter", None) if event.key == LINE_FEED else event)
        else:
            await super().on_event(event)

    def _pasted(self, text: str) -> list[events.Key]:
        """Several lines of numbers are values with Enter after each; empty for what goes into one field."""
        lines = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", "\n")
        if not set(lines) <= PASTED | {"\n"} or ("\n" not in lines and not self._waits()):
            return []
        return [events.Key("enter", None) if one == "\n" else events.Key(one, one) for one in lines]

    def _waits(self) -> bool:
        return bool(self.waiting) or self.unseen() or not self._takes_keys()

    async def _typed(self, event: events.Key) -> None:
        if self._waits() and event.key not in WHILE_SMALL:
            self.waiting.append(event)
        else:
            await self._act(event)

    def _takes_keys(self) -> bool:
        if not self.screen_stack or getattr(self.screen, "busy", False):
            return False
        return getattr(self.screen, "takes_keys", True)

    def unseen(self) -> bool:
        """Whether the window is too small to show what a key does."""
        return bool(self.screen_stack) and self.screen.has_class("-small")

    async def _act(self, event: events.Key) -> None:
        screen = cast("Any", self.screen)
        if getattr(screen, "passes", None) and screen.passes(event):
            self.waiting.insert(0, event)
            return
        if getattr(screen, "holds", None) and screen.holds(event):
            return
        take = getattr(self.focused, "take", None)
        if take is not None and take(event):
            return
        active = screen.active_bindings.get(event.key)
        if active and active.enabled and await self.run_action(active.binding.action, active.node):
            return
        await super().on_event(event)

    async def hand_over(self) -> None:
        """A screen is ready: give it the keys typed meanwhile."""
        while self.waiting and self._takes_keys() and not self.unseen():
            await self._act(self.waiting.pop(0))

    async def ready(self, screen: LabScreen | Panel[Any]) -> None:
        """A screen has its focus: keys may come; those that wait for a yes are asked about."""
        screen.takes_keys, screen.ready_at = True, events.Event().time
        if not hasattr(screen, "holds") and self.aside and self._takes_keys():
            self.waiting, self.aside = [*self.aside, *self.waiting], []
            if any(is_digit(one) for one in self.waiting):
                self.ask_about_waiting("Typed before a box was seen")
            else:
                self.waiting = []  # Enter alone was meant for what is done already
        await self.hand_over()

    def ask_about_waiting(self, heading: str) -> None:
        """Show the keys that waited, and let them act after a yes."""
        from sandlab.screens.held import HeldKeys

        held, self.waiting = self.waiting, []

        def answer(agreed: bool | None) -> None:
            if agreed:
                self.waiting = [*held, *self.aside, *self.waiting]
                self.aside = []
                self.call_later(self.hand_over)

        self.push_screen(HeldKeys(held, heading), answer)


def is_digit(event: events.Key) -> bool:
    """Whether it begins a number."""
    return event.character is not None and event.character.isdigit()
