"""What a control chart shows, as frozen data in its own units; cells and SVG are both drawn from it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sandlab.quantities import format_number

Times = NDArray[np.int64]
Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Flag:
    """A signal at one point: its side (+1 above, -1 below, 0 neither), whether it alarms, and its pattern."""

    index: int
    side: Literal[-1, 0, 1]
    alarm: bool
    members: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class EventMark:
    """Something that happened at a time [us since 1970, UTC]."""

    time: int
    label: str


@dataclass(frozen=True, slots=True)
class BaselineSpan:
    """A stretch of time [us since 1970, UTC] from which limits were taken, and what stands in it."""

    start: int
    end: int
    label: str = "baseline"


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """What is expected after the last test: at each time [us since 1970, UTC] the level and its band."""

    times: Times
    level: Values
    low: Values
    high: Values


class FlagTable:
    """Signals as columns in the order of their points, so that a window of a long history is cut out at once.

    `kinds` are 1 above, -1 below, 0 neither for a pattern to look at; 2 and -2 for an alarm.
    """

    __slots__ = ("flags", "index", "kinds", "source")

    def __init__(self, flags: tuple[Flag, ...]) -> None:
        self.source = flags
        self.flags = tuple(sorted(flags, key=lambda flag: flag.index))
        self.index = np.array([flag.index for flag in self.flags], dtype=np.int64)
        kinds = [(-2 if flag.side < 0 else 2) if flag.alarm else flag.side for flag in self.flags]
        self.kinds = np.array(kinds, dtype=np.int8)

    def within(self, shown: slice) -> slice:
        """Which of them belong to a range of points."""
        first, last = np.searchsorted(self.index, [shown.start, shown.stop])
        return slice(int(first), int(last))


LineKind = Literal["centre", "limit", "zone", "tolerance", "reaction"]


@dataclass(frozen=True, slots=True)
class Line:
    """A level across the whole chart, with the word that stands at its right end (empty for zones)."""

    kind: LineKind
    word: str
    value: float


@dataclass(frozen=True, slots=True, eq=False)
class ChartPicture:
    """One property over time; NaN is a missing test, times ascend [us since 1970, UTC]."""

    times: Times
    values: Values
    title: str = ""
    unit: str = ""
    decimals: int = 1
    decimal_mark: str = "."
    centre: float | None = None
    lower: float | None = None
    upper: float | None = None
    zones: tuple[float, ...] = ()
    tolerance_low: float | None = None
    tolerance_high: float | None = None
    reaction_low: float | None = None
    reaction_high: float | None = None
    flags: tuple[Flag, ...] = ()
    excluded: tuple[int, ...] = ()
    """Positions of the tests that are left out of limits."""
    outlook: Outlook | None = None
    events: tuple[EventMark, ...] = ()
    baselines: tuple[BaselineSpan, ...] = ()
    cursor: int | None = None
    start: int | None = None
    end: int | None = None
    show_all: bool = False
    """Stretch the value axis over every value instead of drawing far outliers at the edge."""
    table: FlagTable | None = field(default=None, repr=False, compare=False)
    """The flags as columns; made here, and handed on by `replace`."""

    def __post_init__(self) -> None:
        """Refuse arrays that do not belong together."""
        if self.times.ndim != 1 or self.times.shape != self.values.shape:
            raise ValueError(
                f"times {self.times.shape} and values {self.values.shape} do not belong together"
            )
        # One that was made by `replace` has been looked through before.
        if self.table is None and self.times.size > 1 and bool(np.any(self.times[1:] < self.times[:-1])):
            raise ValueError("times do not ascend")
        if self.table is None or self.table.source is not self.flags:
            object.__setattr__(self, "table", FlagTable(self.flags))

    def heading(self) -> str:
        """The title with its unit; a plain number has none."""
        return self.title if self.unit in ("", "-", "1") else f"{self.title} [{self.unit}]"

    def text(self, value: float) -> str:
        """A value as it stands on the chart."""
        return format_number(value, self.decimals, mark=self.decimal_mark)

    def window(self) -> tuple[int, int]:
        """The shown stretch of time: as asked, else from the first to the last test."""
        first = int(self.times[0]) if self.times.size else 0
        last = int(self.times[-1]) if self.times.size else 0
        start = first if self.start is None else self.start
        end = last if self.end is None else self.end
        return (start, end) if end > start else (start - HALF_HOUR, start + HALF_HOUR)

    def shown(self) -> slice:
        """Positions of the tests inside the window."""
        start, end = self.window()
        low, high = np.searchsorted(self.times, [start, end + 1])
        return slice(int(low), int(high))

    def levels(self) -> Iterator[Line]:
        """Every line across the chart, from the faintest to the most binding."""
        yield from (Line("zone", "", value) for value in self.zones)
        named: tuple[tuple[LineKind, str, float | None], ...] = (
            ("centre", "centre", self.centre),
            ("tolerance", "tolerance", self.tolerance_low),
            ("tolerance", "tolerance", self.tolerance_high),
            ("reaction", "reaction", self.reaction_low),
            ("reaction", "reaction", self.reaction_high),
            ("limit", "lower", self.lower),
            ("limit", "upper", self.upper),
        )
        yield from (Line(kind, word, value) for kind, word, value in named if value is not None)


HALF_HOUR = 1_800_000_000
