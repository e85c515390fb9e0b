"""The sand's way round the plant as a tower: what comes in at the left, what leaves at the right.

The sand falls from station to station and rises as return sand to the one that takes it up again. The heavy
part of an arm is as long as its flow is large, so the eye finds the great ones before it reads a number.
"""

from __future__ import annotations

from dataclasses import dataclass

from sandlab.drawing.frame import Canvas, Frame
from sandlab.drawing.glyphs import GlyphSet


@dataclass(frozen=True, slots=True)
class Arm:
    """One stream across the border of the system: name, size in the picture's unit, size as it is read."""

    name: str
    size: float
    text: str


@dataclass(frozen=True, slots=True)
class Station:
    """One place on the sand's way: name, what is said of its sand, what comes in and leaves there."""

    name: str
    text: str = ""
    comes: tuple[Arm, ...] = ()
    leaves: tuple[Arm, ...] = ()

    @property
    def rows(self) -> int:
        """Lines of the tower that it takes."""
        return max(1, len(self.comes), len(self.leaves))


@dataclass(frozen=True, slots=True)
class FlowPicture:
    """The tower: heads of its three columns, stations from the top, return sand, sums.

    returned: name and text of the sand that rises from the last station to the first
    came, left: the sums below the columns at either side; around: what is said below the tower
    """

    heads: tuple[str, str, str]
    stations: tuple[Station, ...]
    returned: tuple[str, str]
    came: Arm
    left: Arm
    around: str = ""

    def greatest(self) -> float:
        """The largest arm, 1 where there is none."""
        sizes = [arm.size for one in self.stations for arm in (*one.comes, *one.leaves)]
        return max([size for size in sizes if size > 0.0], default=1.0)

    @property
    def rows(self) -> int:
        """Lines of the whole drawing."""
        return sum(one.rows + 1 for one in self.stations) + 4


@dataclass(frozen=True, slots=True)
class _Ink:
    """The characters of one glyph set: walls, corners, arms with their heavy part, heads of arrows."""

    across: str
    down: str
    corners: str
    tees: str
    fall: str
    heavy: str
    head: str
    turn: str
    bridge: str


_INKS: dict[GlyphSet, _Ink] = {
    "full": _Ink("─", "│", "┌┐└┘", "├┤", "▼", "━", "►", "╭╰", "┼"),
    "console": _Ink("─", "│", "┌┐└┘", "├┤", "▼", "█", "▶", "┌└", "┼"),
    "ascii": _Ink("-", "|", "++++", "++", "v", "#", ">", "++", "+"),
}
LEAST_WIDTH = 78
NUMBER = 7
"""Cells that a number takes on either side."""


@dataclass(frozen=True, slots=True)
class _Layout:
    """Columns of the drawing: walls of the tower, cells of a name and of an arm, the riser's place."""

    left: int
    right: int
    name: int
    arm: int

    @property
    def riser(self) -> int:
        """Where the return sand rises."""
        return self.left - 4


def _layout(width: int) -> _Layout:
    tower = min(36, 27 + (width - LEAST_WIDTH) // 5)
    side = (width - tower) // 2
    name = min(20, side - NUMBER - 8)
    arm = min(18, side - NUMBER - name - 3)
    left = 1 + name + NUMBER + 1 + arm
    return _Layout(left, left + tower - 1, name, arm)


def flow_cells(picture: FlowPicture, *, width: int, height: int, glyphs: GlyphSet = "full") -> Frame:
    """The whole tower; when the space is too small, one line that says so."""
    canvas = Canvas(width, height)
    if width < LEAST_WIDTH or height < picture.rows:
        words = f"the flow drawing needs {LEAST_WIDTH}x{picture.rows} cells, has {width}x{height}"
        canvas.put(0, 0, words, "muted")
        return canvas.frame()
    place, ink = _layout(width), _INKS[glyphs]
    _floor(canvas, 1, place, ink, ink.corners[:2], "")
    row = 2
    top = row + picture.stations[0].rows
    for number, station in enumerate(picture.stations):
        _station(canvas, row, station, picture.greatest(), place, ink)
        row += station.rows
        if number == 0:
            _inside(canvas, row, picture.returned, place, ink, "label")
            row += 1
        last = number == len(picture.stations) - 1
        _floor(canvas, row, place, ink, ink.corners[2:] if last else ink.tees, "" if last else ink.fall)
        row += 1
    _riser(canvas, top, row - 2, place, ink)
    _words(canvas, row, picture, place)
    return canvas.frame()


def _words(canvas: Canvas, row: int, picture: FlowPicture, place: _Layout) -> None:
    """Heads above the columns, sums below them."""
    for column, head in zip((1, place.left + 2, place.right + 2), picture.heads, strict=True):
        canvas.put(0, column, head, "muted")
    came, left = picture.came, picture.left
    canvas.put(row, 1, came.name, "title")
    canvas.put(row, place.left - place.arm - 1 - len(came.text), came.text, "title")
    canvas.put(row, place.left + 2, picture.around, "muted")
    after = place.right + place.arm + 1
    canvas.put(row, after, f"{left.text:>{NUMBER}} {left.name}", "title")


def _floor(canvas: Canvas, row: int, place: _Layout, ink: _Ink, ends: str, fall: str) -> None:
    """A floor of the tower, open in the middle where the sand falls through."""
    width = place.right - place.left + 1
    canvas.put(row, place.left, ends[0] + ink.across * (width - 2) + ends[1], "axis")
    if fall:
        canvas.put(row, place.left + width // 2 - 1, f" {fall} ", "baseline")


def _inside(canvas: Canvas, row: int, words: tuple[str, str], place: _Layout, ink: _Ink, role: str) -> None:
    """One line inside the tower: a name at the left, a text at the right."""
    canvas.put(row, place.left, ink.down, "axis")
    canvas.put(row, place.right, ink.down, "axis")
    name, text = words
    room = place.right - place.left - 4
    canvas.put(row, place.left + 2, name[: max(0, room - len(text))], role)
    canvas.put(row, place.right - 1 - len(text), text, "baseline")


def _station(canvas: Canvas, row: int, station: Station, greatest: float, place: _Layout, ink: _Ink) -> None:
    for line in range(station.rows):
        words = (station.name, station.text) if line == 0 else ("", "")
        _inside(canvas, row + line, words, place, ink, "title")
    for line, arm in enumerate(station.comes):
        start = place.left - place.arm
        canvas.put(row + line, 1, arm.name[: place.name], "label")
        canvas.put(row + line, start - 1 - len(arm.text), arm.text, "data")
        _arm(canvas, row + line, start, arm.size / greatest, place, ink)
    for line, arm in enumerate(station.leaves):
        canvas.put(row + line, place.right, ink.tees[0], "axis")
        _arm(canvas, row + line, place.right + 1, arm.size / greatest, place, ink)
        canvas.put(row + line, place.right + place.arm + 1, f"{arm.text:>{NUMBER}}", "data")
        canvas.put(row + line, place.right + place.arm + NUMBER + 2, arm.name[: place.name], "label")


def _arm(canvas: Canvas, row: int, start: int, share: float, place: _Layout, ink: _Ink) -> None:
    """An arm with its head; its heavy part is as long as the flow is large."""
    room = place.arm - 1
    heavy = min(room, max(0, round(room * share)))
    canvas.put(row, start, ink.heavy * heavy + ink.across * (room - heavy) + ink.head, "data")


def _riser(canvas: Canvas, top: int, bottom: int, place: _Layout, ink: _Ink) -> None:
    """The return sand's way up, at the left of the tower; an arm that comes in passes over it."""
    for row in range(top + 1, bottom):
        crossed = canvas.codes[row, place.riser] != ord(" ")
        canvas.put(row, place.riser, ink.bridge if crossed else ink.down, "baseline")
    reach = place.left - place.riser - 1
    canvas.put(top, place.riser, ink.turn[0] + ink.across * (reach - 1) + ink.head, "baseline")
    canvas.put(bottom, place.riser, ink.turn[1] + ink.across * reach, "baseline")
    canvas.put(bottom, place.left, ink.tees[1], "axis")
