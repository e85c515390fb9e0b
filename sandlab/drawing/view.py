"""Which stretch of time a chart shows: zooming, panning, and following a cursor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sandlab.drawing.picture import Times

NEWEST = 120
"""Tests in view at first."""
LEAST = 8
"""Tests in the shortest view."""
AHEAD = 0.1
"""Share of the view that lies after the last test, for what is expected there."""


@dataclass(frozen=True, slots=True)
class View:
    """A stretch of time [us since 1970, UTC], its ends included."""

    start: int
    end: int

    @property
    def span(self) -> int:
        """Its length [us]."""
        return self.end - self.start

    def zoomed(self, times: Times, factor: float, around: int) -> View:
        """`factor` times as long, with the moment `around` staying where it is in the view."""
        shortest = _usual_interval(times) * LEAST
        longest = int((times[-1] - times[0]) / (1.0 - AHEAD)) if times.size else shortest
        span = int(min(max(self.span * factor, shortest), max(longest, shortest)))
        share = min(1.0, max(0.0, (around - self.start) / self.span))
        start = around - int(share * span)
        return View(start, start + span).inside(times)

    def panned(self, times: Times, share: float) -> View:
        """Moved by a share of its length, later or (below 0) earlier."""
        by = int(self.span * share)
        return View(self.start + by, self.end + by).inside(times)

    def holding(self, times: Times, place: int) -> View:
        """Moved just so far that this test is in view."""
        at = int(times[place])
        if self.start <= at <= self.end:
            return self
        by = at - self.start if at < self.start else at - self.end
        return View(self.start + by, self.end + by)

    def inside(self, times: Times) -> View:
        """Moved so that it does not look past the first test, nor further ahead of the last than usual."""
        if not times.size:
            return self
        last = int(times[-1]) + int(AHEAD * self.span)
        by = min(0, last - self.end)
        by = max(by, int(times[0]) - self.start)
        return View(self.start + by, self.end + by)

    def shows_last(self, times: Times) -> bool:
        """Whether the newest test is in view."""
        return bool(times.size) and self.start <= int(times[-1]) <= self.end

    def reaches(self, times: Times) -> bool:
        """Whether it begins at the first test there is, or before it."""
        return not times.size or self.start <= int(times[0])


def newest(times: Times, count: int = NEWEST) -> View:
    """The last `count` tests, with room after them for what is expected."""
    if times.size < 2:
        at = int(times[0]) if times.size else 0
        return View(at - 1, at + 1)
    start, last = int(times[max(0, times.size - count)]), int(times[-1])
    return View(start, last + int((last - start) * AHEAD / (1.0 - AHEAD)))


def _usual_interval(times: Times) -> int:
    """The middle interval between tests, an hour where there is none."""
    if times.size < 2:
        return 3_600_000_000
    steps = np.diff(times[-2000:])
    return max(1, int(np.median(steps)))
