"""The words of a chart: what has changed, since when, by how much."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, tzinfo

import numpy as np

from sandlab import charts
from sandlab.lab.facts import ChangeFacts, ChartState
from sandlab.lab.false_alarms import WATCH
from sandlab.lab.judging import outside
from sandlab.lab.opening import Lab
from sandlab.lab.series import Series, moment_of
from sandlab.lab.showing import MOST_FINER, age_words, marked
from sandlab.lab.sources import age_min
from sandlab.quantities import format_number

STALE_AFTER = 3.0
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
        return span_words(moment, zone, now)

    found = charts.describe(
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
    return _in_words(found, series)


def _in_words(found: charts.Description, series: Series) -> charts.Description:
    """The description in the decimal mark of its series."""
    what, since, amount, sure, wrong, sentence = (
        marked(words, series.mark)
        for words in (found.what, found.since, found.amount, found.sure, found.wrong, found.sentence)
    )
    return replace(
        found, what=what, since=since, amount=amount, sure=sure, wrong=wrong, sentence=sentence,
        chart=series.in_words(found.chart),
    )  # fmt: skip


def _named(series: Series, slot: int) -> str:
    """The test in a slot, counted from 1, as its table names it: "row 41"."""
    return series.points[int(series.places[slot - 1])].sample


def span_words(when: charts.When, zone: tzinfo, now: datetime | None) -> str:
    """A start and the range it lies in, such as "Tue 14:00 (13:00 to 17:00)", local.

    With a date when old, and with the year when it is another than this or no present is known.
    """
    start, low, high = (moment_of(one).astimezone(zone) for one in (when.start, when.low, when.high))
    day = "%d %b" if now and low.year == now.astimezone(zone).year else "%d %b %Y"
    if now and timedelta(0) <= now - low < timedelta(days=6):
        day = "%a"
    if low == high:
        return f"{start:{day} %H:%M}"
    # An end without a day is read as being on the day named before it.
    first = "%H:%M" if low.date() == start.date() else f"{day} %H:%M"
    last = "%H:%M" if low.date() == start.date() == high.date() else f"{day} %H:%M"
    return f"{start:{day} %H:%M} ({low:{first}} to {high:{last}})"


def state_and_words(lab: Lab, series: Series, wrong: str) -> tuple[ChartState, str, charts.Description]:
    """The state of a property, the words for it, and the figures behind them."""
    found = described(series, wrong=wrong, zone=lab.zone, now=lab.now())
    if not series.count:
        return "too_few", "Not tested yet.", found
    value = series.points[-1].value
    if series.reaction and outside(value, series.reaction):
        for decimals in range(series.decimals, series.decimals + MOST_FINER):
            numbers = (value, *series.reaction)
            shown, low, high = (format_number(number, decimals, mark=lab.mark) for number in numbers)
            if shown not in (low, high):
                break
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
