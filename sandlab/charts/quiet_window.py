"""Where a baseline could be taken: the latest stretch of tests on one level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import MINIMUM_BASELINE
from sandlab.charts.changepoint import split_point
from sandlab.charts.estimates import as_series, estimate
from sandlab.charts.normal import Floats
from sandlab.errors import impossible

# Gain in log-likelihood of a split, autocorrelation taken out, from which two levels are believed: windows of
# one state exceed it in 2 to 5 % of simulations, in 12 % when they are short (40) and alike (phi 0.6).
SPLIT_SUPPORT = 6.0
# Fewer tests on the new level may be outliers.
FEWEST_AFTER = 4


@dataclass(frozen=True, slots=True)
class QuietWindow:
    """The latest stretch of one level: places `first` to `last`, its measured tests, and whether they do."""

    first: int
    last: int
    count: int
    enough: bool
    reason: str


def quiet_window(values: npt.ArrayLike, *, minimum: int = 30, longest: int = 500) -> QuietWindow:
    """The latest stretch of tests on one level, as a proposal for a baseline window.

    The last `longest` tests are split where two levels fit best; while the split is believed, the older part
    is left out. Raises InputError for fewer than MINIMUM_BASELINE measured tests, infinite ones, a `minimum`
    below MINIMUM_BASELINE or above `longest`.
    """
    series = as_series(values, where="window")
    if not MINIMUM_BASELINE <= minimum <= longest:
        raise impossible("minimum", f"{minimum} tests", f"give {MINIMUM_BASELINE} to {longest}")
    places = np.flatnonzero(~np.isnan(series))
    if places.size < MINIMUM_BASELINE:
        what = f"{places.size} measured values"
        raise impossible("window", what, f"choose one with at least {MINIMUM_BASELINE}")
    places = places[-longest:]
    split = False
    while places.size >= MINIMUM_BASELINE:
        window = series[places[0] : places[-1] + 1]
        start = _believed_split(window)
        if start is None:
            break
        places, split = places[places >= places[0] + start], True
    since = (
        f"the level last changed before test {int(places[0]) + 1}" if split else "no change of level in it"
    )
    enough = places.size >= minimum
    tail = "" if enough else f"; {minimum - places.size} more are needed"
    reason = f"{places.size} tests, {since}{tail}"
    return QuietWindow(int(places[0]), int(places[-1]), int(places.size), enough, reason)


def _believed_split(window: Floats) -> int | None:
    """Where the window's level changes for good, None when it need not have or it is too soon to say."""
    measured = np.flatnonzero(~np.isnan(window))
    steps = np.flatnonzero(np.diff(window[measured]))
    if steps.size < 2:
        # One level, or two without any spread around them.
        return int(measured[steps[0] + 1]) if steps.size else None
    change = split_point(window)
    if np.count_nonzero(measured >= change.start) < FEWEST_AFTER:
        return None
    levels = window.copy()
    for part in (levels[: change.start], levels[change.start :]):
        part -= np.nanmean(part)
    found = estimate(levels)
    # The lag-1 value of n tests falls short by about (1 + 3 phi)/n.
    phi = (found.lag1 or 0.0) + (1.0 + 3.0 * (found.lag1 or 0.0)) / found.count
    phi = max(0.0, min(0.95, phi))
    return change.start if change.support * (1.0 - phi) / (1.0 + phi) > SPLIT_SUPPORT else None
