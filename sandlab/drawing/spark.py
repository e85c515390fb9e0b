"""One row of a property's last tests for the overview; the row's floor and ceiling are the control limits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sandlab.drawing.frame import Canvas, Frame
from sandlab.drawing.glyphs import MARKS, ROLE_CODE, GlyphSet

_LEVELS: dict[GlyphSet, str] = {"full": "▁▂▃▄▅▆▇█", "console": "_-^", "ascii": "_-^"}


def sparkline(
    values: NDArray[np.float64],
    width: int,
    glyphs: GlyphSet = "full",
    *,
    lower: float | None = None,
    upper: float | None = None,
) -> Frame:
    """The newest value at the right; one beyond a limit is that side's alarm triangle, a missing one a gap.

    Without limits the row spans the values themselves. When there are more values than columns, each column
    shows the one farthest from the middle, so that no outlier vanishes.
    """
    canvas = Canvas(width, 1)
    if width < 1:
        return canvas.frame()
    low, high = _span(values, lower, upper)
    kept = _farthest(values, width, (low + high) / 2)
    levels, first = np.array([ord(char) for char in _LEVELS[glyphs]], dtype=np.uint32), width - kept.size
    share = (kept - low) / (high - low) if high > low else kept * 0.0 + 0.5
    known = np.flatnonzero(np.isfinite(kept))
    steps = np.clip(np.floor(share[known] * len(levels)), 0, len(levels) - 1).astype(np.int64)
    canvas.codes[0, first + known] = levels[steps]
    canvas.roles[0, first + known] = ROLE_CODE["data"]
    for beyond, mark in (
        (kept > (np.inf if upper is None else upper), MARKS[glyphs].alarm_high),
        (kept < (-np.inf if lower is None else lower), MARKS[glyphs].alarm_low),
    ):
        columns = first + np.flatnonzero(beyond)
        canvas.mark(np.zeros_like(columns), columns, mark, "alarm")
    return canvas.frame()


def _span(values: NDArray[np.float64], lower: float | None, upper: float | None) -> tuple[float, float]:
    finite = values[np.isfinite(values)]
    low = lower if lower is not None else float(finite.min(initial=np.inf)) if finite.size else 0.0
    high = upper if upper is not None else float(finite.max(initial=-np.inf)) if finite.size else 0.0
    return low, max(low, high)


def _farthest(values: NDArray[np.float64], width: int, middle: float) -> NDArray[np.float64]:
    """At most `width` values, each the farthest from the middle of its share."""
    if values.size <= width:
        return values
    shares = np.array_split(values, width)
    return np.array(
        [np.nan if np.isnan(s).all() else s[int(np.nanargmax(np.abs(s - middle)))] for s in shares]
    )
