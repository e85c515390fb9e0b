"""Three glyph sets and the marks a chart is drawn with in each of them.

`full` is for terminals with a wide font: braille dots, half and eighth blocks. `console` keeps to shapes that
Linux console fonts really draw apart: in those fonts the arrows share a picture with the triangles, the large
bullet with the small one, and double, heavy and dashed lines with the plain one, so only one of each is used.
`ascii` is pure ASCII.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

GlyphSet = Literal["full", "console", "ascii"]
GLYPH_SETS: tuple[GlyphSet, ...] = ("full", "console", "ascii")

CONSOLE_GLYPHS = "▲▼▶◀■•·─│┌┐└┘├┤┬┴┼░▒█«»°±"
"""The glyphs outside ASCII that the console set may use."""

ROLES = (
    "blank",
    "good",
    "watch",
    "alarm",
    "muted",
    "title",
    "axis",
    "label",
    "zone",
    "centre",
    "limit",
    "tolerance",
    "reaction",
    "baseline",
    "data",
    "event",
    "outlook",
    "cursor",
)
"""Every role a drawn cell can have; the screens map each one to a colour of the theme."""

ROLE_CODE = {role: code for code, role in enumerate(ROLES)}


@dataclass(frozen=True, slots=True)
class Marks:
    """The characters of one glyph set, each named after what it says on a chart."""

    point: str
    """One test."""
    fill: str
    """Several tests in one column, from the lowest to the highest."""
    crossing: str
    """Where such a bar crosses the centre or a limit."""
    alarm_high: str
    alarm_low: str
    """An alarm: the solid triangle points to the side on which the point left the limits."""
    watch_high: str
    watch_low: str
    watch_level: str
    """A pattern worth a look: the same triangles, hollow or small; level when it has no side."""
    member: str
    """A point that belongs to a signal's pattern: a ring around it, as a pencil would."""
    excluded: str
    """A test that is left out of limits: crossed out."""
    outlook: str
    """The edges of what is expected after the last test."""
    beyond_high: str
    beyond_low: str
    """A value off the scale: the way it lies, with its number beside it."""
    centre: str
    limit: str
    zone: str
    tolerance: str
    reaction: str
    """Lines across the plot: the more a line binds, the more solid it is."""
    axis: str
    axis_left: str
    axis_tick: str
    side: str
    side_tick: str
    """The time line and the value axis."""
    baseline: str
    """The stretch of the time line from which the limits were taken."""
    event: str
    """Something that was done or that happened, on the time line."""
    cursor: str
    """The column being read."""


MARKS: dict[GlyphSet, Marks] = {
    "full": Marks(
        point="•",
        fill="│",
        crossing="┼",
        alarm_high="▲",
        alarm_low="▼",
        watch_high="△",
        watch_low="▽",
        watch_level="◇",
        member="○",
        excluded="×",
        outlook="┄",
        beyond_high="↑",
        beyond_low="↓",
        centre="─",
        limit="─",
        zone="┈",
        tolerance="╌",
        reaction="━",
        axis="─",
        axis_left="└",
        axis_tick="┬",
        side="│",
        side_tick="┤",
        baseline="━",
        event="◆",
        cursor="│",
    ),
    "console": Marks(
        point="•",
        fill="│",
        crossing="┼",
        alarm_high="▲",
        alarm_low="▼",
        watch_high="^",
        watch_low="v",
        watch_level="=",
        member="o",
        excluded="x",
        outlook="·",
        beyond_high="»",
        beyond_low="«",
        centre="─",
        limit="─",
        zone="·",
        tolerance="-",
        reaction="=",
        axis="─",
        axis_left="└",
        axis_tick="┬",
        side="│",
        side_tick="┤",
        baseline="▒",
        event="■",
        cursor="│",
    ),
    "ascii": Marks(
        point="*",
        fill="|",
        crossing="+",
        alarm_high="A",
        alarm_low="V",
        watch_high="^",
        watch_low="v",
        watch_level="?",
        member="o",
        excluded="x",
        outlook=":",
        beyond_high=">",
        beyond_low="<",
        centre="-",
        limit="-",
        zone=".",
        tolerance="~",
        reaction="=",
        axis="-",
        axis_left="+",
        axis_tick="+",
        side="|",
        side_tick="+",
        baseline="=",
        event="!",
        cursor="|",
    ),
}
