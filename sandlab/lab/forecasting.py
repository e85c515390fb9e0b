"""What the next tests will show if nothing is done: the drift that goes on, or the return to the level."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from sandlab import charts
from sandlab.errors import InputError
from sandlab.lab import figuring
from sandlab.lab.facts import ChangeFacts, ForecastFacts
from sandlab.lab.kinds import resemblance
from sandlab.lab.series import Floats, Series
from sandlab.lab.showing import age_words
from sandlab.quantities import format_number

STEPS = 24
"""Tests looked ahead."""
SAID = 8
"""The test ahead whose band is said in words."""
CONFIDENCE = 0.9


def forecast(
    series: Series, window: Floats, change: ChangeFacts | None, began: int | None, *, mark: str
) -> ForecastFacts | None:
    """The coming tests with the band that holds 9 of 10 of them; None without limits or times.

    `window` are the values that the limits come from, `began` the slot where a lasting change began.
    """
    limits, last = series.limits, series.points[-1].at if series.points else None
    if limits is None or not limits.usable or last is None or series.times_us is None:
        return None
    every = timedelta(minutes=_interval_min(series))
    steps = np.arange(STEPS + 1, dtype=np.float64)
    paths: tuple[str, ...] = ()
    try:
        drift, _ = figuring.trend(series, change, began) if change is not None else (None, ())
        if drift is not None and drift.sure:
            found = _drifting(series, limits, drift.count, steps * (every / timedelta(hours=1)))
            paths = tuple(one.words for one in drift.outlook if one.course in ("coming", "unsure"))
            basis = "drift"
        else:
            model = resemblance(window, limits)
            level = None if change is None else limits.centre + change.size
            found = charts.forecast(series.values, model, steps, level=level, confidence=CONFIDENCE)
            basis = "step" if change is not None else "level"
    except InputError:
        return None
    return ForecastFacts(
        basis=basis,
        times=tuple(last + every * int(step) for step in steps),
        level=tuple(found.level.tolist()),
        low=tuple(found.low.tolist()),
        high=tuple(found.high.tolist()),
        confidence=CONFIDENCE,
        words=_words(series, found, every, paths, mark),
    )


def _interval_min(series: Series) -> float:
    """Minutes from one slot to the next: as scheduled, else as they came."""
    if series.every_min:
        return series.every_min
    times = series.times_us
    if times is None or times.size < 2:
        return 60.0
    return max(1.0, float(np.median(np.diff(times))) / 60e6)


def _drifting(series: Series, limits: charts.Limits, count: int, hours: Floats) -> charts.Forecast:
    """The drift of the last `count` tests, going on."""
    measured = np.flatnonzero(~np.isnan(series.values))[-count:]
    assert series.times_us is not None
    at = (series.times_us[measured] - series.times_us[measured[0]]) / 3.6e9
    phi = min(0.95, max(0.0, limits.lag1)) if "autocorrelated" in limits.flags else 0.0
    trend = charts.robust_trend(series.values[measured], at, phi=phi)
    return charts.trend_forecast(trend, limits.sigma, hours, confidence=CONFIDENCE)


def _words(
    series: Series, found: charts.Forecast, every: timedelta, paths: tuple[str, ...], mark: str
) -> str:
    low, high = (
        format_number(float(row[SAID]), series.decimals, mark=mark) for row in (found.low, found.high)
    )
    when = age_words(SAID * every / timedelta(minutes=1))
    said = f"If nothing is done, 9 of 10 tests lie between {low} and {high} {series.unit}".rstrip()
    return " ".join([f"{said} in {when}.", *paths[:1]])
