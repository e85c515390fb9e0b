"""Invented pictures that several tests draw, and the reading of dots back from braille cells."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing import BaselineSpan, ChartPicture, EventMark, Flag, Frame, Tile

ZONE = ZoneInfo("Europe/Berlin")
HOUR = 3_600_000_000
START = 1_772_600_400_000_000
"""4 March 2026, 06:00 in Berlin (05:00 UTC)."""


def hours(count: int, start: int = START) -> NDArray[np.int64]:
    """Hourly times."""
    return start + np.arange(count, dtype=np.int64) * HOUR


def wave(count: int) -> NDArray[np.float64]:
    """A smooth series around 42 without any random part."""
    step = np.arange(count)
    return np.asarray(
        np.round(42.0 + 1.2 * np.sin(step / 3.0) + 0.5 * np.cos(step * 1.7), 1), dtype=np.float64
    )


def compactability() -> ChartPicture:
    """Sixty hourly tests with two missing, a high and a low alarm, a pattern, two events and a baseline."""
    times, values = hours(60), wave(60)
    values[20:22] = np.nan
    values[40], values[50] = 45.9, 38.4
    return ChartPicture(
        times,
        values,
        title="Compactability",
        unit="%",
        centre=42.0,
        lower=39.0,
        upper=45.0,
        zones=(40.0, 41.0, 43.0, 44.0),
        tolerance_low=39.5,
        tolerance_high=44.5,
        reaction_low=37.0,
        reaction_high=47.0,
        flags=(Flag(40, 1, True), Flag(50, -1, True), Flag(30, 1, False, (24, 25, 26, 27, 28, 29))),
        events=(EventMark(int(times[24]), "new clay lot"), EventMark(int(times[44]), "wear plates")),
        baselines=(BaselineSpan(int(times[0]), int(times[18])),),
    )


def ten_years() -> ChartPicture:
    """Ninety thousand hourly tests with one wild value."""
    values = wave(90_000)
    values[45_000] = 44.9
    return ChartPicture(
        hours(90_000), values, title="Moisture", unit="%", centre=42.0, lower=39.5, upper=44.5
    )


def tile() -> Tile:
    """A drift out of the limits."""
    values = np.concatenate([wave(30), np.linspace(42.0, 37.5, 10)])
    return Tile(
        "Compactability", "38 %", "signal", "drifts down since Tue 09:00", "25 min", values,
        centre=42.0, lower=39.0, upper=45.0,
    )  # fmt: skip


def dots(frame: Frame, role: str = "data") -> NDArray[np.bool_]:
    """The dots of one role's braille cells, (rows x 4) x (columns x 2); bit order as in the Unicode block."""
    grid = np.zeros((frame.height * 4, frame.width * 2), dtype=bool)
    order = ((0, 0), (1, 0), (2, 0), (0, 1), (1, 1), (2, 1), (3, 0), (3, 1))
    for row, cells in enumerate(frame.cells()):
        for column, cell in enumerate(cells):
            code = ord(cell.char) - 0x2800
            if cell.role == role and 0 <= code < 256:
                for bit, (down, right) in enumerate(order):
                    grid[row * 4 + down, column * 2 + right] = bool(code >> bit & 1)
    return grid
