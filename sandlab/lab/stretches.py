"""A property over a stretch of time that is past: its tests, limits and tolerance of then, its signals."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sandlab.lab.assembling import chart_facts, newest, signal_facts
from sandlab.lab.baselines import all_baselines, baseline_facts, span_facts
from sandlab.lab.charting import RECENT
from sandlab.lab.facts import ChartFacts, SignalFacts
from sandlab.lab.kinds import Shown
from sandlab.lab.opening import Lab
from sandlab.lab.periods import MICROSECOND, Period
from sandlab.lab.series import Series
from sandlab.lab.sources import aimed_at, read
from sandlab.lab.specs_then import Then
from sandlab.lab.timeline import events
from sandlab.records import Baseline


def baseline_of(stored: Sequence[Baseline], until: datetime | None) -> Baseline | None:
    """The baseline in force at a time: the last frozen by then, else the first one frozen after it."""
    before = [one for one in stored if until is None or one.recorded_at <= until]
    if before:
        return before[-1]
    return stored[0] if stored else None


def stretch(
    lab: Lab, property: str, period: Period, then: Then, *, shown: Period | None = None
) -> ChartFacts:
    """The chart of a period, with the signals that fell in it; `shown` may draw a longer one around it.

    Signals are looked for with the tests before the period, so that none is lost at its start. Tolerance and
    reaction limits are those that the last test of the period was taken under.
    """
    own = all_baselines(lab).get(property, [])
    baseline = baseline_of(own, period.until)
    drawn = shown or period
    series = read(lab, property, since=drawn.since, until=drawn.until, baseline=baseline)
    tested = [one.sample for one in series.points if one.at and period.holds(one.at)]
    if tested:
        series = aimed_at(lab, series, then.target(tested[-1], property))
    signals = tuple(
        one for one in _signals(lab, property, drawn, series, baseline) if one.at and period.holds(one.at)
    )
    facts = chart_facts(
        series,
        state="signal" if any(one.alarm for one in signals) else "in_control",
        words="",
        kind="individuals",
        other=Shown("", None, ()),
        signals=signals,
        found=None,
        wrong="",
    )
    noted = events(lab, drawn.since) if drawn.since else ()
    return facts.model_copy(
        update={
            "baseline": baseline_facts(lab, baseline) if baseline else None,
            "baselines": tuple(span_facts(one) for one in own),
            "events": tuple(one for one in noted if drawn.holds(one.at) and one.kind != "handover"),
        }
    )


def _signals(
    lab: Lab, property: str, drawn: Period, series: Series, baseline: Baseline | None
) -> tuple[SignalFacts, ...]:
    """The signals of the drawn tests; a run that began before them counts too."""
    if not series.count or series.limits is None:
        return ()
    if drawn.since is None:
        return signal_facts(series, series.individuals())
    led = read(lab, property, until=drawn.since - MICROSECOND, last=RECENT, baseline=baseline)
    first = led.points[0].at if led.points else drawn.since
    longer = read(lab, property, since=first, until=drawn.until, baseline=baseline)
    return signal_facts(newest(longer, series.count), longer.individuals())
