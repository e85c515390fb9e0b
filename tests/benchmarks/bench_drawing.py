"""Full redraws of a control chart against one look at every value."""

from __future__ import annotations

import argparse
from zoneinfo import ZoneInfo

import numpy as np

from sandlab.drawing import GLYPH_SETS, ChartPicture, Flag, chart_cells, chart_svg
from tests.benchmarks.timing import report, seconds

BASELINE = "numpy min and max of the values"
ZONE = ZoneInfo("Europe/Berlin")
HOUR = 3_600_000_000


def main(argv: list[str]) -> None:
    """Print the cost of drawing at several lengths and one size."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks drawing")
    parser.add_argument("--count", type=int, nargs="*", default=[500, 5_000, 90_000])
    parser.add_argument("--width", type=int, default=120)
    parser.add_argument("--height", type=int, default=36)
    options = parser.parse_args(argv)
    for count in options.count:
        measure(count, options.width, options.height)


def picture_of(count: int) -> ChartPicture:
    """A noisy year or more of hourly tests with limits, missing values and alarms."""
    values = np.random.default_rng(31).normal(42.0, 1.0, count)
    alarms = tuple(Flag(int(i), 1, True) for i in np.flatnonzero(values > 45.0))
    values[count // 3 : count // 3 + count // 50] = np.nan
    return ChartPicture(
        np.arange(count, dtype=np.int64) * HOUR,
        values,
        title="Compactability",
        unit="%",
        centre=42.0,
        lower=39.0,
        upper=45.0,
        tolerance_low=39.5,
        tolerance_high=44.5,
        flags=alarms,
    )


def measure(count: int, width: int, height: int) -> None:
    """Measure one length."""
    picture = picture_of(count)
    baseline = seconds(lambda: (picture.values.min(), picture.values.max()), repeats=51)
    print(f"{count} tests, {len(picture.flags)} alarms, {width}x{height} cells")
    report(BASELINE, baseline, baseline, BASELINE)
    for glyphs in GLYPH_SETS:

        def redraw() -> object:
            return chart_cells(picture, width=width, height=height, zone=ZONE, glyphs=glyphs).runs()  # noqa: B023

        report(f"chart, {glyphs}, cut into runs", seconds(redraw, repeats=21), baseline, BASELINE)
    report("chart as SVG", seconds(lambda: chart_svg(picture, zone=ZONE)), baseline, BASELINE)
