"""Widgets that draw prepared cells: a frame of the drawing package, and a list with a cursor."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from sandlab.screens.base import station

if TYPE_CHECKING:
    from sandlab.drawing import Frame


class CellsView(Widget):
    """A drawn frame, line by line; each role has its colour of the theme."""

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self._make: Callable[[int, int], Frame] | None = None
        self._strips: list[Strip] = []
        self._drawn_for = (0, 0)

    def draw(self, frame: Frame) -> None:
        """Show this frame."""
        self.draw_by(lambda _width, _height: frame)

    def draw_by(self, make: Callable[[int, int], Frame]) -> None:
        """Show what `make` draws for a width and a height, now and whenever the size changes."""
        self._make = make
        self._strips = []
        self.refresh()

    def notify_style_update(self) -> None:
        """The theme changed: colour anew."""
        super().notify_style_update()
        self._strips = []

    def render_line(self, y: int) -> Strip:
        """One row of the frame."""
        width, height = self.size
        # The size may have changed without a word: messages come later than the next picture.
        if not self._strips or self._drawn_for != (width, height):
            self._drawn_for = (width, height)
            drawn = self._make(width, height) if self._make is not None and width and height else None
            self._strips = strips_of(self, drawn, width) if drawn is not None else []
        return self._strips[y] if y < len(self._strips) else Strip.blank(width, self.rich_style)


def strips_of(widget: Widget, frame: Frame, width: int) -> list[Strip]:
    """The rows of a frame in the colours of the theme."""
    # Imported here: the first frame has no drawing.
    from sandlab.drawing import ROLES

    base, colours = widget.rich_style, station(widget).theme_variables
    styles: dict[str, Style] = {}
    for role in ROLES:
        colour = colours.get(role)
        styles[role] = base
        if colour is not None:
            styles[role] = base + Style(color=colour, bold=role in ("alarm", "watch", "title"))
    reading = styles["cursor"] + Style(reverse=True)
    rows = []
    for line in frame.runs():
        # The cursor's own line is plain; what it stands on is reversed.
        segments = [
            Segment(text, reading if role == "cursor" and text not in "│|" else styles[role])
            for text, role in line
        ]
        rows.append(Strip(segments).adjust_cell_length(width, base))
    return rows


class PickList(Widget, can_focus=True):
    """Lines with a cursor; Enter picks."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "step(-1)", "Up", show=False),
        Binding("down", "step(1)", "Down", show=False),
        Binding("pageup", "page(-1)", "Page up", show=False),
        Binding("pagedown", "page(1)", "Page down", show=False),
        Binding("home", "step(-9999)", "First", show=False),
        Binding("end", "step(9999)", "Last", show=False),
        Binding("enter", "pick", "Open"),
    ]

    class Moved(Message):
        """The cursor stands on another line."""

        def __init__(self, at: int) -> None:
            super().__init__()
            self.at = at

    class Picked(Moved):
        """Enter was pressed on a line."""

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self.lines: Sequence[Content] = ()
        self.at = 0
        self._top = 0

    def fill(self, lines: Sequence[Content], *, at: int | None = None) -> None:
        """Show these lines, the cursor on line `at` or where it was."""
        self.lines = lines
        self.at = max(0, min(self.at if at is None else at, len(lines) - 1))
        self.refresh()

    def render(self) -> Content:
        """The lines in view, the one under the cursor reversed, with a sign when more follow."""
        room = max(1, self.size.height)
        self._scroll()
        shown = [*self.lines[self._top : self._top + room]]
        if self.lines:
            place = self.at - self._top
            shown[place] = (
                shown[place].pad_right(max(0, self.size.width - shown[place].cell_length)).stylize("reverse")
            )
        return Content("\n").join(shown)

    def below(self) -> int:
        """How many lines lie below the view."""
        self._scroll()
        return max(0, len(self.lines) - self._top - max(1, self.size.height))

    def on_show(self) -> None:
        """Only now its size is known: say anew what lies below."""
        self.post_message(self.Moved(self.at))

    def _scroll(self) -> None:
        """Keep the cursor in view; a hidden list has none."""
        if room := self.size.height:
            self._top = max(min(self._top, self.at, len(self.lines) - room), self.at - room + 1, 0)

    def action_step(self, by: int) -> None:
        """Move the cursor."""
        if self.lines:
            self.at = max(0, min(self.at + by, len(self.lines) - 1))
            self.refresh()
            self.post_message(self.Moved(self.at))

    def action_page(self, by: int) -> None:
        """Move the cursor by what is in view."""
        self.action_step(by * max(1, self.size.height - 1))

    def action_pick(self) -> None:
        """Open the line under the cursor."""
        if self.lines:
            self.post_message(self.Picked(self.at))
