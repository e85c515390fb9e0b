"""A wall of small charts with a cursor: as many as fit beside and below each other, the rest by scrolling."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.strip import Strip
from textual.widget import Widget

from sandlab.screens.base import station
from sandlab.screens.cells import PickList, strips_of

if TYPE_CHECKING:
    from sandlab.drawing import Tile

LEAST_TILE = (38, 6)
"""Columns and rows of the smallest tile, the blank row under it included."""


class Wall(Widget, can_focus=True):
    """Small charts in reading order; Enter opens the one under the cursor."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "step(-1)", "Left", show=False),
        Binding("right", "step(1)", "Right", show=False),
        Binding("up", "row(-1)", "Up", show=False),
        Binding("down", "row(1)", "Down", show=False),
        Binding("pageup", "page(-1)", "Page up", show=False),
        Binding("pagedown", "page(1)", "Page down", show=False),
        Binding("home", "step(-9999)", "First", show=False),
        Binding("end", "step(9999)", "Last", show=False),
        Binding("enter", "pick", "Open"),
    ]

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self.tiles: Sequence[Tile] = ()
        self.at = 0
        self._top = 0
        self._asked = False
        self._drawn: dict[tuple[int, bool], list[Strip]] = {}
        self._drawn_for = (0, 0)

    def fill(self, tiles: Sequence[Tile], *, at: int | None = None) -> None:
        """Show these charts, the cursor on number `at` or where it was."""
        self.tiles = tiles
        self.at = max(0, min(self.at if at is None else at, len(tiles) - 1))
        self._drawn = {}
        self.refresh()
        if self._asked and tiles:
            self.action_pick()

    def notify_style_update(self) -> None:
        """The theme changed: colour anew."""
        super().notify_style_update()
        self._drawn = {}

    def on_show(self) -> None:
        """Only now its size is known: say anew what lies below."""
        self.post_message(PickList.Moved(self.at))

    @property
    def across(self) -> int:
        """Tiles beside each other."""
        return max(1, self.size.width // LEAST_TILE[0])

    @property
    def down(self) -> int:
        """Rows of tiles in view."""
        return max(1, self.size.height // LEAST_TILE[1])

    @property
    def tile_height(self) -> int:
        """Rows of a tile, with the blank one under it."""
        return max(LEAST_TILE[1], self.size.height // self.down)

    def below(self) -> int:
        """How many tiles lie below the view."""
        self._scroll()
        return max(0, len(self.tiles) - (self._top + self.down) * self.across)

    def render_line(self, y: int) -> Strip:
        """One row of every tile beside each other."""
        # The size may have changed without a word: messages come later than the next picture.
        if self._drawn_for != self.size:
            self._drawn, self._drawn_for = {}, self.size
        if y == 0:
            self._scroll()
        row, line = divmod(y, self.tile_height)
        first = (self._top + row) * self.across
        blank = Strip.blank(self.size.width, self.rich_style)
        if row >= self.down or line >= self.tile_height - 1 or first >= len(self.tiles):
            return blank
        places = range(first, min(first + self.across, len(self.tiles)))
        strips = [self._tile(place)[line] for place in places]
        return Strip.join(strips).adjust_cell_length(self.size.width, self.rich_style)

    def _tile(self, place: int) -> list[Strip]:
        """A tile's rows, drawn when first needed."""
        from sandlab.drawing import tile_cells

        chosen = place == self.at
        if (place, chosen) not in self._drawn:
            width, here = self.size.width // self.across, station(self)
            frame = tile_cells(
                self.tiles[place], width=width, height=self.tile_height - 1, glyphs=here.glyphs, chosen=chosen
            )
            self._drawn[place, chosen] = strips_of(self, frame, width)
        return self._drawn[place, chosen]

    def _scroll(self) -> None:
        """Keep the cursor in view; a hidden wall has none."""
        if not self.size.height:
            return
        row = self.at // self.across
        last = max(0, -(-len(self.tiles) // self.across) - self.down)
        self._top = min(last, max(min(self._top, row), row - self.down + 1, 0))

    def action_step(self, by: int) -> None:
        """Move the cursor to a neighbour."""
        if self.tiles:
            self.at = max(0, min(self.at + by, len(self.tiles) - 1))
            self.refresh()
            self.post_message(PickList.Moved(self.at))

    def action_row(self, by: int) -> None:
        """Move the cursor a row of tiles, staying in its column where there is a tile."""
        target = self.at + by * self.across
        if 0 <= target < len(self.tiles):
            self.action_step(target - self.at)
        elif by > 0 and self.at // self.across < (len(self.tiles) - 1) // self.across:
            self.action_step(len(self.tiles))

    def action_page(self, by: int) -> None:
        """Move the cursor by what is in view."""
        self.action_step(by * self.across * self.down)

    def action_pick(self) -> None:
        """Open the chart under the cursor, or the first one as soon as there are charts."""
        self._asked = not self.tiles
        if self.tiles:
            self.post_message(PickList.Picked(self.at))
