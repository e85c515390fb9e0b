"""What a chart is drawn from, in display units, whatever its source: tests, additions, a column of a file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt

from sandlab import charts
from sandlab.lab.facts import BaselineFacts, PointFacts
from sandlab.lab.showing import marked

Floats = npt.NDArray[np.float64]
Times = npt.NDArray[np.int64]
Places = npt.NDArray[np.intp]
Pair = tuple[float, float]

# A gap of more than this many intervals between two tests is a missing test.
MISSING_AFTER = 1.6
# After that many missing tests in a row nothing of a departure is left.
MOST_MISSING = 24
EPOCH = datetime.fromtimestamp(0, UTC)


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One property over time: a value per slot (NaN where a test is missing), its points, limits and bounds.

    `places` gives each slot's point, -1 for a missing test; `times_us` its time, None for a file without;
    `rules` are those switched on for it, None for the shown set; `mark` is the decimal mark of its words.
    """

    name: str
    label: str
    short: str
    unit: str
    decimals: int
    values: Floats
    places: Places
    times_us: Times | None
    points: tuple[PointFacts, ...]
    every_min: float | None = None
    limits: charts.Limits | None = None
    baseline: BaselineFacts | None = None
    rules: tuple[str, ...] | None = None
    target: float | None = None
    tolerance: tuple[float | None, float | None] | None = None
    reaction: Pair | None = None
    mark: str = "."

    @property
    def count(self) -> int:
        """Measured tests."""
        return len(self.points)

    @property
    def alarms(self) -> tuple[str, ...]:
        """The rules that alarm: those switched on, else a point beyond a limit."""
        return self.rules or tuple(key for key, rule in charts.RULES.items() if rule.alarms)

    @property
    def tests_per_day(self) -> float:
        """Tests a day as scheduled, else as they came, else one."""
        if self.every_min:
            return 1440.0 / self.every_min
        if self.times_us is None or self.count < 2:
            return 1.0
        days = float(self.times_us[-1] - self.times_us[0]) / 86_400_000_000
        return (self.count - 1) / days if days > 0.0 else 1.0

    def individuals(self) -> charts.IndividualsChart:
        """The chart of single tests."""
        found = charts.individuals(
            self.values,
            None,
            self.limits,
            rules=self.rules,
            alarms=self.alarms,
            decimals=self.decimals,
            unit=self.unit,
        )
        return self.in_words(found)

    def in_words(self, found: charts.IndividualsChart) -> charts.IndividualsChart:
        """A chart with its words in the plant's decimal mark."""
        if self.mark == ".":
            return found
        latest = found.latest_alarm
        return replace(
            found,
            signals=tuple(self._signal(one) for one in found.signals),
            latest_alarm=None if latest is None else self._signal(latest),
            sentence=marked(found.sentence, self.mark),
        )

    def _signal(self, one: charts.Signal) -> charts.Signal:
        return replace(one, reason=marked(one.reason, self.mark))


def microseconds(moment: datetime) -> int:
    """Whole microseconds since 1970, UTC."""
    return (moment - EPOCH) // timedelta(microseconds=1)


def moment_of(time_us: int) -> datetime:
    """The moment of whole microseconds since 1970, UTC."""
    return EPOCH + timedelta(microseconds=int(time_us))


def slotted(times_us: Times, values: Floats, every_min: float | None) -> tuple[Floats, Places, Times]:
    """Values with holes (NaN) where scheduled tests are missing, each slot's row (-1 for none) and its time.

    Times must not descend; two tests at one moment are set a microsecond apart, so that they stay in order.
    """
    count = values.size
    missing = np.zeros(max(0, count - 1), dtype=np.intp)
    if every_min and count > 1:
        intervals = np.diff(times_us) / (every_min * 60_000_000.0)
        found = np.clip(np.rint(intervals) - 1, 1, MOST_MISSING).astype(np.intp)
        missing = np.where(intervals > MISSING_AFTER, found, 0)
    slots = np.arange(count) + np.concatenate(([0], np.cumsum(missing))).astype(np.intp)[:count]
    size = int(slots[-1]) + 1 if count else 0
    filled, places = np.full(size, np.nan), np.full(size, -1, dtype=np.intp)
    filled[slots], places[slots] = values, np.arange(count)
    order = np.arange(size)
    spread = np.rint(np.interp(order, slots, times_us)).astype(np.int64) if count else times_us
    return filled, places, np.maximum.accumulate(spread - order) + order if size else spread


def unfrozen(limits: charts.Limits, reason: str) -> BaselineFacts:
    """Limits that nobody froze, and where they come from."""
    return BaselineFacts(
        baseline="",
        frozen_by="",
        frozen_at=None,
        reason=reason,
        window_from=None,
        window_to=None,
        excluded=(),
        count=limits.count,
        centre=limits.centre,
        lower=limits.lower,
        upper=limits.upper,
        sigma=limits.sigma,
        sigma_moving_range=limits.sigma_moving_range,
        lag1=limits.lag1,
        width=limits.width,
    )
