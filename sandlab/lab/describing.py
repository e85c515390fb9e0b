"""The words of a chart: what has changed, since when, by how much, and how often all charts are wrong."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import datetime, timedelta, tzinfo
from functools import lru_cache

import numpy as np

from sandlab import charts
from sandlab.lab.facts import ChangeFacts, ChartState
from sandlab.lab.opening import Lab
from sandlab.lab.series import Series, moment_of
from sandlab.lab.showing import age_words
from sandlab.lab.sources import age_min, display_limits, usual_interval_min
from sandlab.quantities import format_number
from sandlab.records import Baseline

STALE_AFTER = 3.0
# Weight and width of the moving average that looks for lasting changes beside every chart.
WATCH = (0.2, 2.86)
_STATES: dict[str, ChartState] = {
    "in control": "in_control",
    "signal": "signal",
    "step": "signal",
    "drift": "signal",
    "no baseline": "no_baseline",
    "too few": "too_few",
}


def described(
    series: Series, *, wrong: str | None, zone: tzinfo, now: datetime | None = None
) -> charts.Description:
    """Chart, lasting change and false alarms of a series, with times as the plant's clock shows them."""

    def when(moment: charts.When) -> str:
        if series.times_us is None:
            start, low, high = (_named(series, one) for one in (moment.start, moment.low, moment.high))
            return (
                start
                if low == high
                else f"{start} ({low.removeprefix('row ')} to {high.removeprefix('row ')})"
            )
        return span_words(moment, zone, now or moment_of(moment.start))

    return charts.describe(
        series.values,
        series.times_us,
        series.limits,
        name=series.label,
        unit=series.unit,
        decimals=series.decimals,
        when=when,
        rules=series.rules,
        alarms=series.alarms,
        weight=WATCH[0],
        width=WATCH[1],
        wrong=wrong,
        random=np.random.default_rng(1),
    )


def _named(series: Series, slot: int) -> str:
    """The test in a slot, counted from 1, as its table names it: "row 41"."""
    return series.points[int(series.places[slot - 1])].sample


def span_words(when: charts.When, zone: tzinfo, now: datetime) -> str:
    """A start and the range it lies in, such as "Tue 14:00 (13:00 to 17:00)", local; with a date when old."""
    start, low, high = (moment_of(one).astimezone(zone) for one in (when.start, when.low, when.high))
    day = "%a" if now - moment_of(when.start) < timedelta(days=6) else "%d %b"
    if low == high:
        return f"{start:{day} %H:%M}"
    ends = [f"{one:%H:%M}" if one.date() == start.date() else f"{one:{day} %H:%M}" for one in (low, high)]
    return f"{start:{day} %H:%M} ({ends[0]} to {ends[1]})"


def state_and_words(lab: Lab, series: Series, wrong: str) -> tuple[ChartState, str, charts.Description]:
    """The state of a property, the words for it, and the figures behind them."""
    found = described(series, wrong=wrong, zone=lab.zone, now=lab.now())
    if not series.count:
        return "too_few", "Not tested yet.", found
    value = series.points[-1].value
    if series.reaction and not series.reaction[0] <= value <= series.reaction[1]:
        shown, low, high = (
            format_number(number, series.decimals, mark=lab.mark) for number in (value, *series.reaction)
        )
        words = f"{shown} is past the reaction limits {low} to {high}: react at once."
        return "past_reaction_limit", f"{words} {found.sentence}" if found.since else words, found
    state = state_of(found)
    age = age_min(lab, series)
    if state == "in_control" and series.every_min and age > STALE_AFTER * series.every_min:
        return "stale", f"Last test {age_words(age)} ago: what the sand is now is not known.", found
    return state, found.sentence, found


def state_of(found: charts.Description) -> ChartState:
    """The state of a chart as the overview names it."""
    return _STATES[found.state]


def change_facts(found: charts.Description, *, timed: bool) -> ChangeFacts | None:
    """The lasting change of a description."""
    when = found.when
    if when is None or found.size is None or found.size_low is None or found.size_high is None:
        return None
    return ChangeFacts(
        what=found.what,
        since=found.since,
        amount=found.amount,
        sure=found.sure,
        began_at=moment_of(when.start) if timed else None,
        began_from=moment_of(when.low) if timed else None,
        began_to=moment_of(when.high) if timed else None,
        began_test=None if timed else (when.start, when.low, when.high),
        size=found.size,
        size_low=found.size_low,
        size_high=found.size_high,
    )


def wrong_words(lab: Lab, baselines: Iterable[Baseline]) -> str:
    """How often all charts in use are wrong, in words; empty without any limits."""
    found = all_alarms(lab, baselines)
    if found is None:
        return ""
    count, rate = found
    over = f" over all {count} charts" if count > 1 else ""
    return f"about one false alarm {every_words(rate)}{over}"


def every_words(rate: charts.FalseAlarms) -> str:
    """The time between false alarms: "every 9 days"."""
    return rate.sentence.removeprefix("About one false alarm ").split(" over ")[0].split(" (")[0].rstrip(".")


def all_alarms(lab: Lab, baselines: Iterable[Baseline]) -> tuple[int, charts.FalseAlarms] | None:
    """How many charts are in use, and how often at least one of them alarms when nothing is wrong."""
    alike: Counter[charts.ChartInUse] = Counter()
    tests: Counter[charts.ChartInUse] = Counter()
    for one in baselines:
        limits = display_limits(lab, one)
        every = usual_interval_min(lab, one.property)
        if limits.usable:
            entry = lab.specs.properties.get(one.property)
            rules = entry.rules if entry else None
            in_use = chart_in_use("", limits, rules, 1.0)
            alike[in_use] += 1
            tests[in_use] += round(1e6 * 1440.0 / every) if every else 1_000_000
    if not alike:
        return None
    return alike.total(), _solved(tuple(sorted(tests.items(), key=str)))


def chart_in_use(
    name: str, limits: charts.Limits, rules: tuple[str, ...] | None, tests_per_day: float
) -> charts.ChartInUse:
    """A chart as its false alarms are counted: its rules, limits, resemblance, and the average beside it.

    Autocorrelation counts to one decimal, so that charts of the same tests are solved once.
    """
    phi = min(0.9, round(max(0.0, limits.lag1), 1)) if "autocorrelated" in limits.flags else 0.0
    keys = rules or ("beyond_limit",)
    plain = keys == ("beyond_limit",)
    return charts.ChartInUse(
        name=name,
        tests_per_day=tests_per_day,
        rules=keys,
        width=limits.width,
        phi=phi,
        # Other rules are simulated; over every baseline that may have been drawn this would take too long.
        baseline_count=max(charts.MINIMUM_BASELINE, limits.count) if plain else None,
        basis=limits.basis,
        ewma=WATCH,
    )


@lru_cache(maxsize=16)
def _solved(tests: tuple[tuple[charts.ChartInUse, int], ...]) -> charts.FalseAlarms:
    """Kept, because charts are looked at more often than limits are frozen."""
    in_use = [
        charts.ChartInUse(
            name=f"chart {place}",
            tests_per_day=micro / 1e6,
            rules=one.rules,
            width=one.width,
            phi=one.phi,
            baseline_count=one.baseline_count,
            basis=one.basis,
            ewma=one.ewma,
        )
        for place, (one, micro) in enumerate(tests)
    ]
    return charts.false_alarms(in_use, random=np.random.default_rng(1))
