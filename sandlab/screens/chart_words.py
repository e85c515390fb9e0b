"""The words around a chart: what the cursor reads out, what comes next, where the limits come from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from sandlab.lab.facts import BaselineFacts, ChartFacts, EventFacts, SignalFacts
from sandlab.lab.leaving import reason_of
from sandlab.lab.together import NAME
from sandlab.quantities import format_number
from sandlab.screens.base import Part, dated

CLOCK = "%d %b %H:%M"


@dataclass(frozen=True, slots=True)
class Reading:
    """The words of one chart on the plant's clock and with its decimal mark."""

    facts: ChartFacts
    zone: tzinfo
    mark: str
    at: Mapping[int, Sequence[SignalFacts]]

    def newest(self) -> list[Part | str]:
        """Without a cursor: the newest alarm, and what comes if nothing is done."""
        facts = self.facts
        if not facts.points:
            return ["No test of it is recorded yet. F2 leads to the form."]
        alarms = [one for one in facts.signals if one.alarm][-1:]
        lines = [f"{dated(one.at, self.zone, CLOCK)}  {one.reason}" for one in alarms]
        if not alarms:
            seen, count = len(facts.signals), len(facts.points)
            some = f"no alarm in these {count} tests; {seen} patterns to look at"
            lines = [some if seen else f"no signal in these {count} tests"]
        if facts.forecast is not None and facts.drawn is None:
            lines.append(facts.forecast.words)
        return ["\n".join(lines)]

    def under(self, cursor: int, beside: str) -> list[Part | str]:
        """The test under the cursor, by whom, its flags; the signals there and what was noted before."""
        facts, point = self.facts, self.facts.points[cursor]
        notes = ["corrected"] if point.corrected and not point.flags else []
        notes += point.flags
        when = dated(point.at, self.zone, "%a %d %b %Y %H:%M")
        return [
            (f"{when}  {self.number(point.value)} {facts.unit}".rstrip(), "bold"),
            # Who left a test out stands in its flag; that is not who measured it.
            f"{beside}  by {point.by}" if point.by and not reason_of(point.flags) else beside,
            self._drawn(cursor),
            *((f"  noted: {one.text} ({one.by})", "$event") for one in self._events(cursor)[-1:]),
            "\n",
            f"{'; '.join(notes)}; " if notes else "",
            *self._here(cursor),
        ]

    def _here(self, cursor: int) -> list[Part | str]:
        there = sorted(self.at.get(cursor, ()), key=lambda one: not one.alarm)
        more = f"; {len(there) - 1} more pattern{'s' if len(there) > 2 else ''}" if len(there) > 1 else ""
        return [there[0].reason + more if there else "no signal here"]

    def _events(self, cursor: int) -> list[EventFacts]:
        """What was noted between the test before and this one."""
        points = self.facts.points
        end, before = points[cursor].at, points[max(0, cursor - 1)].at
        if end is None or before is None:
            return []
        start = before if cursor else end - timedelta(hours=1)
        return [one for one in self.facts.events if start < one.at <= end]

    def _drawn(self, cursor: int) -> str:
        """What another kind of chart has at a test."""
        drawn = self.facts.drawn
        value = drawn.values[cursor] if drawn else None
        if drawn is None or value is None or self.facts.property == NAME:
            return ""
        return f"; here {format_number(value, drawn.decimals, mark=self.mark)} {drawn.unit}".rstrip()

    def below(self) -> list[Part | str]:
        """What another kind of chart promises, or where the limits come from and whether they still hold."""
        facts = self.facts
        if facts.drawn is not None:
            return [facts.drawn.design]
        if facts.baseline is None:
            return ["No limits are frozen. Show a quiet stretch of 20 or more tests and press F6."]
        old: Part = ("These limits no longer describe the process: Enter says why.", "$watch")
        return [self._baseline(facts.baseline), old if facts.proposal else ""]

    def spread(self) -> str:
        """The spread behind the limits, where the chart is of the tests themselves."""
        baseline = self.facts.baseline
        if baseline is None or not baseline.count or self.facts.drawn is not None:
            return ""
        return (
            f"Standard deviation {self.number(baseline.sigma, 2)} (from moving ranges "
            f"{self.number(baseline.sigma_moving_range, 2)}), lag-1 autocorrelation "
            f"{format_number(baseline.lag1, 2, mark=self.mark)}"
        )

    def _baseline(self, baseline: BaselineFacts) -> str:
        """Who froze the limits, when, from what and why; or that no test stands behind them."""
        if not baseline.count:
            return (
                f"limits {self.number(baseline.lower)} to {self.number(baseline.upper)}: {baseline.reason}. "
            )
        out = f", {len(baseline.excluded)} left out" if baseline.excluded else ""
        return (
            f"limits {self.number(baseline.lower, 1)} to {self.number(baseline.upper, 1)}, frozen "
            f"{self._day(baseline.frozen_at)} by {baseline.frozen_by} from {baseline.count} tests{out}, "
            f"{self._day(baseline.window_from)} to {self._day(baseline.window_to)}: {baseline.reason}. "
        )

    def number(self, value: float, more: int = 0) -> str:
        """A value of the property, with more decimals where asked."""
        return format_number(value, self.facts.decimals + more, mark=self.mark)

    def _day(self, moment: datetime | None) -> str:
        return dated(moment, self.zone, "%d %b %Y")
