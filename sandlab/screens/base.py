"""What every screen shares: top bar, key line made from the bindings, access to the terminal's state."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, ClassVar, cast

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from sandlab.errors import SandlabError
from sandlab.screens.look import GlyphSet, word_style

if TYPE_CHECKING:
    from sandlab.screens.app import SandlabApp

LEAST_COLUMNS, LEAST_ROWS = 80, 24
TOO_SMALL = "Typed while the window was too small"
KEY_NAMES = {
    "escape": "Esc",
    "enter": "Enter",
    "pagedown": "PgDn",
    "pageup": "PgUp",
    "up": "Up",
    "down": "Down",
    "left": "Left",
    "right": "Right",
    "question_mark": "?",
    "asterisk": "*",
    "slash": "/",
    "plus": "+",
    "minus": "-",
    "delete": "Del",
    "insert": "Ins",
}

Part = tuple[str, str]
"""Text and the style it is written in."""


def station(widget: Widget) -> SandlabApp:
    """The terminal a widget lives on."""
    return cast("SandlabApp", widget.app)


def key_name(key: str) -> str:
    """A key as it is printed on the keyboard."""
    return KEY_NAMES.get(key, key.upper() if is_function_key(key) else key.title() if len(key) > 1 else key)


def styled(*parts: Part | str) -> Content:
    """Text in pieces; a piece is plain text or text with its style."""
    return Content.assemble(*parts)


def state_parts(key: str, glyphs: GlyphSet, *, word: str = "") -> Part:
    """A state's mark and word in its style."""
    from sandlab.drawing.states import state

    entry = state(key)
    return f" {entry.glyph(glyphs)} {word or entry.word} ", word_style(entry.role)


class TopBar(Static):
    """Whose plant, which screen, who is at the terminal, what time it is."""

    def on_mount(self) -> None:
        """Keep the clock going."""
        self.set_interval(5.0, self.show)
        self.show()

    def show(self) -> None:
        """Write the line anew."""
        here = station(self)
        tabs: list[Part | str] = []
        for mode, key, name in (
            ("tests", "F2", "Tests"),
            ("charts", "F3", "Charts"),
            ("muller", "F4", "Muller"),
        ):
            # the balance stands behind the charts: F3 again leads to it and back
            if mode == "charts" and here.current_mode == "balance":
                mode, name = "balance", "Balance"
            style = "bold reverse" if here.current_mode == mode else ""
            tabs += [(f" {key} {name} ", style), " "]
        who = f"{here.technician or 'who?'} F5"
        right = f"{who}  {here.clock_text()} "
        plant = f" {here.plant or 'sandlab'}"
        middle = sum(len(part if isinstance(part, str) else part[0]) for part in tabs)
        room = max(8, self.size.width - middle - len(right) - 2)
        plant = plant if len(plant) <= room else plant[: room - 1] + "~"
        gap = max(1, self.size.width - len(plant) - middle - len(right) - 1)
        self.update(styled(plant, " ", *tabs, " " * gap, right))

    def on_resize(self) -> None:
        """Fit the line to the new width."""
        self.show()


class KeyLine(Static):
    """The keys that do something here and now, taken from the bindings."""

    def on_mount(self) -> None:
        """Follow every change of the bindings."""
        self.screen.bindings_updated_signal.subscribe(self, lambda _: self.show())
        self.show()

    def on_resize(self) -> None:
        """Fit the line to the new width."""
        self.show()

    def show(self) -> None:
        """Write the line anew; keys that do not fit are in the list of keys."""
        if not self.is_attached:
            return
        parts: list[Part | str] = []
        # The last one, the list of keys, always fits.
        room = self.size.width - 8
        for binding in shown_bindings(self.screen):
            name, what = key_name(binding.key), binding.description
            width = len(name) + len(what) + 3
            if width > room and binding.action != "keys":
                continue
            room -= width
            parts += [(f" {name}", "bold $bar"), f" {what} "]
        self.update(styled(*parts))


def shown_bindings(screen: Screen[object], *, everything: bool = False) -> list[Binding]:
    """The bindings in force, one per action, those of the screen before those of every screen.

    With `everything` also those of screen and application that the key line has no room for; of a pair of
    keys (down, up) the second is named with the first.
    """
    found: dict[str, Binding] = {}
    common: dict[str, Binding] = {}
    for active in screen.active_bindings.values():
        binding = active.binding
        name = binding.action.removeprefix("screen.").split("(")[0]
        elsewhere = binding.action.startswith("screen.") and not hasattr(screen, f"action_{name}")
        own = active.node is screen.app or (active.node is screen and "." not in binding.action)
        wanted = binding.show or (everything and own and binding.tooltip)
        if elsewhere or not wanted or not binding.description or binding.system:
            continue
        group = common if active.node is screen.app else found
        kept = group.get(binding.action)
        if kept is None or _rank(binding.key) < _rank(kept.key):
            group[binding.action] = binding
    first = sorted(found.values(), key=lambda one: (one.key != "enter", not one.show))
    return [*first, *common.values()]


def _rank(key: str) -> int:
    """Of several keys for one action the function key is named, else Enter, else the first."""
    return 0 if is_function_key(key) else 1 if key == "enter" else 2


def is_function_key(key: str) -> bool:
    """Whether it is one of F1 to F12."""
    return key[:1] == "f" and key[1:].isdigit()


class LabScreen(Screen[None]):
    """One of the three main screens, or one opened from them."""

    DECIDES: ClassVar[str] = ""
    """What a person decides here, as the list of keys says it."""

    # Both are made when first needed: every widget of the first frame costs time.
    _message: Static | None = None
    _small: Static | None = None
    _had_keys: Widget | None = None

    def compose(self) -> ComposeResult:
        """The bar above, the screen's own content, the keys below."""
        yield TopBar(id="top")
        yield from self.content()
        yield KeyLine(id="keys")

    def content(self) -> ComposeResult:
        """What stands between the bars."""
        yield from ()

    def reload(self) -> None:
        """Fetch the facts anew."""

    def unread(self, error: SandlabError) -> None:
        """The facts could not be fetched: say so without covering what is shown."""
        self.say(f"What is shown may be out of date. {error.problems[0]}")

    def show_top(self) -> None:
        """Write the top bar anew."""
        self.query_one(TopBar).show()
        self.show_timers()

    def show_timers(self) -> None:
        """Write the line of timers anew, if any has been started."""
        if station(self).timers is not None:
            from sandlab.screens.timers import line

            line(self)

    def say(self, words: str) -> None:
        """One line above the keys; empty words take it away."""
        if self._message is None and words:
            self._message = Static(id="message")
            self.mount(self._message, before="#keys")
        if self._message is not None and (words or self._message.display):
            self._message.update(words)
            self._message.display = bool(words)

    takes_keys = False
    ready_at = 0.0

    def on_screen_resume(self) -> None:
        """Show what happened while another screen was up; take the keys typed meanwhile."""
        self.call_next(station(self).ready, self)
        self.show_top()
        if station(self).opened:
            self.reload()

    def on_resize(self, event: events.Resize) -> None:
        """Say so when the terminal is too small to show everything."""
        small = event.size.width < LEAST_COLUMNS or event.size.height < LEAST_ROWS
        if small != self.has_class("-small"):
            (self._unseen if small else self._seen_again)()
        self.set_class(small, "-small")
        self.set_class(event.size.width >= 110, "-wide")
        self.set_class(event.size.height >= 36, "-tall")
        if small:
            has = f"{event.size.width}x{event.size.height}"
            words = (
                f"This window has {has} characters; sandlab needs {LEAST_COLUMNS}x{LEAST_ROWS}. "
                "Make it larger, or make the letters smaller. Nothing typed is lost: keys wait, "
                "and you are asked about them. F9 quits."
            )
            if self._small is None:
                self._small = Static(id="small")
                self.mount(self._small)
            self._small.update(words)

    def _unseen(self) -> None:
        """What is hidden loses the keys: remember who had them."""
        self._had_keys = self.focused

    def _seen_again(self) -> None:
        """The window is large enough again: nothing typed unseen acts without a yes."""
        if self._had_keys is not None:
            self.call_after_refresh(self.set_focus, self._had_keys)
        if station(self).waiting:
            self.call_after_refresh(station(self).ask_about_waiting, TOO_SMALL)


def ago(moment: datetime | None, now: datetime) -> str:
    """How long ago, in the coarsest unit that says enough."""
    if moment is None:
        return "never"
    minutes = max(0, round((now - moment).total_seconds() / 60))
    return f"{age(minutes)} ago" if minutes else "just now"


def dated(moment: datetime | None, zone: tzinfo, pattern: str) -> str:
    """A moment on the plant's clock; a test without a time says so."""
    return moment.astimezone(zone).strftime(pattern) if moment else "no time"


def short_name(material: str) -> str:
    """A material without its brand and lot."""
    return material.partition(",")[0]


def age(minutes: int) -> str:
    """A length of time in the coarsest unit that says enough."""
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 2880 else f"{minutes // 1440} d"
