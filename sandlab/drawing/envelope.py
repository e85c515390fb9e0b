"""Many tests in few columns: per column the lowest and highest value, so that no outlier vanishes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing.picture import ChartPicture, Values

GAP_FACTOR = 4.0
"""A pause of more than so many usual intervals is a gap: no line over tests that were never made."""


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """Per column the lowest and highest value, NaN where there is none; the same with the joining line."""

    tests: int

    low: Values
    high: Values
    line_low: Values
    line_high: Values


def columns_of(times: NDArray[np.int64], window: tuple[int, int], columns: int) -> NDArray[np.int64]:
    """The column of each time; the window's ends are the first and the last column."""
    start, end = window
    place = (np.asarray(times, dtype=np.int64) - start) * ((columns - 1) / (end - start))
    return np.asarray(np.floor(place + 0.5), dtype=np.int64)


def envelope(picture: ChartPicture, columns: int) -> Envelope:
    """The shown values of a picture gathered into columns."""
    shown = picture.shown()
    times, values = picture.times[shown], picture.values[shown]
    low, high = np.full(columns, np.nan), np.full(columns, np.nan)
    starts, held = _groups(times, picture.window(), columns)
    if held.size:
        low[held] = np.fmin.reduceat(values, starts)
        high[held] = np.fmax.reduceat(values, starts)
    edge = _joins(times, values, starts, held, columns)
    around = np.stack([low, high, edge[:-1], edge[1:]])
    return Envelope(int(np.isfinite(values).sum()), low, high, np.fmin.reduce(around), np.fmax.reduce(around))


def _groups(
    times: NDArray[np.int64], window: tuple[int, int], columns: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Where each column's tests start, and which columns have any."""
    start, end = window
    edges = start + (np.arange(columns) - 0.5) * ((end - start) / (columns - 1))
    starts = np.searchsorted(times, np.ceil(edges).astype(np.int64))
    held = np.flatnonzero(np.diff(starts, append=times.size))
    return starts[held].astype(np.int64), held.astype(np.int64)


def _joins(
    times: NDArray[np.int64],
    values: Values,
    starts: NDArray[np.int64],
    held: NDArray[np.int64],
    columns: int,
) -> Values:
    """The line's height at every edge between columns (columns + 1 of them); NaN where nothing is joined."""
    edge = np.full(columns + 1, np.nan)
    if held.size < 2:
        return edge
    left, right = starts[1:] - 1, starts[1:]
    from_value = np.where(gaps(times)[left], np.nan, values[left])
    place = np.arange(int(held[0]) + 1, int(held[-1]) + 1)
    piece = np.searchsorted(held, place - 1, side="right") - 1
    share = (place - 0.5 - held[piece]) / (held[piece + 1] - held[piece])
    edge[place] = from_value[piece] + (values[right][piece] - from_value[piece]) * share
    return edge


def gaps(times: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which intervals are gaps; the usual interval is the middle one of (at most about 2,000 of) them."""
    intervals = np.diff(times)
    if not intervals.size:
        return np.zeros(0, dtype=bool)
    return intervals > GAP_FACTOR * float(np.median(intervals[:: max(1, intervals.size // 2000)]))
