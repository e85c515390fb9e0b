"""Control charts of the recorded tests and additions: overview, one chart, the alarms of now."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta

import numpy as np

from sandlab import charts, schedule
from sandlab.errors import InputError
from sandlab.lab import together
from sandlab.lab.assembling import chart_facts, newest, signal_facts
from sandlab.lab.baselines import (
    all_baselines,
    baseline_facts,
    freeze_baseline,
    newest_baselines,
    span_facts,
    window_values,
)
from sandlab.lab.brief import brief
from sandlab.lab.describing import change_facts, state_and_words
from sandlab.lab.designs import Design
from sandlab.lab.facts import (
    ChartFacts,
    ChartKind,
    ChartState,
    ForecastFacts,
    OverviewFacts,
    PropertyFacts,
)
from sandlab.lab.false_alarms import wrong_words
from sandlab.lab.forecasting import forecast
from sandlab.lab.foreseen import foreseen_property
from sandlab.lab.kinds import KINDS, SUBGROUPS, other_kind
from sandlab.lab.opening import Lab
from sandlab.lab.picturing import picture
from sandlab.lab.repeats import repeats_shown, takes_repeats
from sandlab.lab.series import Floats, Series
from sandlab.lab.showing import bound_of, bounds_words, clock_text, marked
from sandlab.lab.sources import additions, batches, names, read, require
from sandlab.lab.timeline import add_event, events
from sandlab.quantities import format_number
from sandlab.records import Baseline, Sample

__all__ = [
    "add_event",
    "alarms_at",
    "chart",
    "chart_alarms",
    "freeze_baseline",
    "names",
    "newest",
    "overview",
    "picture",
]

RECENT = 40
# Tests looked back on for the start of a change.
LOOK_BACK = 120
# A baseline is compared with that many tests after it.
COMPARED = 200
_ATTENTION: dict[ChartState, int] = {
    "past_reaction_limit": 0,
    "signal": 1,
    "stale": 2,
    "in_control": 3,
    "no_baseline": 4,
    "too_few": 5,
}


def overview(lab: Lab, *, rate: bool = True) -> OverviewFacts:
    """All charted properties, the hourly set together and the additions; what needs attention first.

    With `rate` the words end with how often all charts are wrong.
    """
    baselines = newest_baselines(lab)
    wrong = marked(wrong_words(lab, baselines.values()), lab.mark) if rate else ""
    charted = [key for key, entry in lab.specs.properties.items() if entry.chart != "none"]
    rows = [
        _property_facts(lab, read(lab, key, last=LOOK_BACK, baseline=baselines.get(key)), wrong)
        for key in charted
    ]
    set_row = together.row(lab, baselines)
    rows += [set_row] if set_row else []
    if not batches(lab, hours=1).is_empty():
        added = (read(lab, name, last=RECENT, baseline=baselines.get(name)) for name in additions(lab))
        rows += [_property_facts(lab, one, wrong) for one in added if one.count]
    found = tuple(sorted(rows, key=lambda one: _ATTENTION[one.state]))
    return OverviewFacts(now=lab.now(), wrong=wrong, properties=found)


def chart(
    lab: Lab,
    property: str,
    *,
    last: int = 120,
    kind: ChartKind = "individuals",
    design: Design | None = None,
    since: datetime | None = None,
    until: datetime | None = None,
    spread: charts.Spread = "deviation",
) -> ChartFacts:
    """One chart over its last tests, or those of a stretch of time, of the kind asked for.

    The words are always about the present; `spread` is that of a chart of repeats. Raises InputError for an
    unknown name.
    """
    if foreseen_property(property):
        return _unforeseen(lab, property, (last, kind, design, since, until))
    stored = all_baselines(lab)
    wrong = marked(wrong_words(lab, (one[-1] for one in stored.values())), lab.mark)
    if property == together.NAME:
        return _set_chart(lab, stored, last, kind, design)
    require(lab, property)
    own = stored.get(property, [])
    baseline = own[-1] if own else None
    asked = since is not None or until is not None
    series = read(lab, property, last=LOOK_BACK if asked else max(last, LOOK_BACK), baseline=baseline)
    # A change is looked for and dated over the same stretch, however much is shown.
    recent = newest(series, LOOK_BACK)
    state, words, found = state_and_words(lab, recent, wrong)
    shown = newest(series, last)
    if asked:
        shown = read(lab, property, since=since, until=until, baseline=baseline)
    window = window_values(lab, baseline) if baseline else np.empty(0)
    if kind == SUBGROUPS:
        other = repeats_shown(lab, shown, baseline, last=last, since=since, until=until, spread=spread)
    else:
        other = other_kind(shown, window, kind, design or Design(), mark=lab.mark)
    long = asked or shown.values.size > recent.values.size
    single = shown.individuals() if long else found.chart
    signals = other.signals if other.drawn else signal_facts(shown, single)
    facts = chart_facts(
        shown,
        state=state,
        words=words + _bounds(lab, recent),
        kind=kind,
        other=other,
        signals=signals,
        found=found,
        wrong=wrong,
        proposal=baseline_proposal(lab, baseline, series) if baseline else "",
    )
    return facts.model_copy(
        update={
            "baseline": baseline_facts(lab, baseline) if baseline else None,
            "forecast": _forecast(lab, recent, window, found),
            "baselines": tuple(span_facts(one) for one in own),
            "events": events(lab, shown.points[0].at) if shown.points else (),
            "kinds": (*KINDS, SUBGROUPS) if takes_repeats(lab, property) else KINDS,
        }
    )


def _unforeseen(
    lab: Lab,
    name: str,
    shown: tuple[int, ChartKind, Design | None, datetime | None, datetime | None],
) -> ChartFacts:
    """What the balance did not foresee of a property; only this chart runs the balance."""
    from sandlab.lab import innovations

    return innovations.chart(lab, name, innovations.Shown(*shown))


def _set_chart(
    lab: Lab, stored: Mapping[str, Sequence[Baseline]], last: int, kind: ChartKind, design: Design | None
) -> ChartFacts:
    """The hourly set together, with the weight asked for."""
    in_force = {name: one[-1] for name, one in stored.items()}
    weight = design.weight if design else None
    return together.chart(lab, in_force, last=last, kind=kind, weight=weight)


def _forecast(lab: Lab, recent: Series, window: Floats, found: charts.Description) -> ForecastFacts | None:
    """The coming tests, from those that the words speak of."""
    change = change_facts(found, timed=recent.times_us is not None)
    began = found.change.best.start if found.change is not None else None
    return forecast(recent, window, change, began, mark=lab.mark)


def chart_alarms(lab: Lab, properties: Collection[str]) -> dict[str, tuple[str, str]]:
    """Side and reason of the present chart alarm of each property that has one."""
    baselines = newest_baselines(lab)
    found: dict[str, tuple[str, str]] = {}
    for key in properties:
        alarm = read(lab, key, last=RECENT, baseline=baselines.get(key)).individuals().latest_alarm
        if alarm is not None:
            found[key] = (alarm.side, alarm.reason)
    return found


def alarms_at(lab: Lab, sample: Sample) -> list[tuple[str, str]]:
    """Property and reason of every chart alarm that a sample's results completed."""
    baselines = newest_baselines(lab)
    found = []
    for result in sample.results:
        key = result.property
        if key not in baselines or schedule.home_point(lab.sand, key) != sample.point:
            continue
        series = read(lab, key, last=RECENT, baseline=baselines[key])
        found += [
            (key, one.reason)
            for one in series.individuals().signals
            if one.alarm and series.points[int(series.places[one.index])].sample == sample.id
        ]
    return found


def _property_facts(lab: Lab, series: Series, wrong: str) -> PropertyFacts:
    state, words, found = state_and_words(lab, series, wrong)
    limits = series.limits
    last = series.points[-1] if series.points else None
    return PropertyFacts(
        property=series.name,
        label=series.label,
        short=series.short,
        unit=series.unit,
        decimals=series.decimals,
        state=state,
        words=words,
        brief=brief(lab, series, state, found),
        last_value=last.value if last else None,
        last_text=(bound_of(last.flags) if last else "")
        or format_number(last.value if last else None, series.decimals, mark=lab.mark),
        last_at=last.at if last else None,
        recent=tuple(point.value for point in series.points[-RECENT:]),
        centre=limits.centre if limits else None,
        lower=limits.lower if limits else None,
        upper=limits.upper if limits else None,
    )


def _bounds(lab: Lab, series: Series) -> str:
    """The tests that are only bounds, the newest first."""
    found = [(one.at, bound) for one in reversed(series.points) if (bound := bound_of(one.flags))]
    return bounds_words([f"{bound} of {clock_text(at, lab.zone, lab.now())}" for at, bound in found if at])


def baseline_proposal(lab: Lab, baseline: Baseline, series: Series) -> str:
    """What to do when later tests no longer agree with the baseline; empty while they do."""
    if series.limits is None or not series.limits.usable:
        return ""
    after = baseline.window_to + timedelta(microseconds=1)
    later: Floats = read(lab, series.name, since=after, last=COMPARED).values
    try:
        found = charts.check_baseline(later, series.limits, decimals=series.decimals, unit=series.unit)
    except InputError:
        # Too few later tests, or tests that do not vary: nothing can be said against the baseline.
        return ""
    return marked(found.sentence, lab.mark) if found.proposed else ""
