"""Control charts of the recorded tests: overview, one chart, freezing limits, notes on the time line."""

from __future__ import annotations

from collections.abc import Collection
from datetime import UTC, datetime, timedelta
from typing import Literal

import numpy as np
import polars as pl

from sandlab import charts, schedule
from sandlab.drawing import BaselineSpan, ChartPicture, EventMark, Flag
from sandlab.errors import impossible, nearest
from sandlab.lab.baselines import (
    baseline_facts,
    display_limits,
    freeze_baseline,
    newest_baselines,
    slots,
    usual_interval_min,
)
from sandlab.lab.facts import (
    ChartFacts,
    ChartState,
    OverviewFacts,
    PointFacts,
    PropertyFacts,
    SignalFacts,
)
from sandlab.lab.opening import Lab
from sandlab.lab.showing import (
    age_words,
    display_decimals,
    display_unit,
    pair_to_display,
    shown_unit,
    text_of,
    to_display,
)
from sandlab.lab.timeline import add_event, events
from sandlab.reactions import past_reaction
from sandlab.records import Baseline, Sample

__all__ = ["add_event", "alarms_at", "chart", "chart_alarms", "freeze_baseline", "overview", "picture"]

RECENT = 40
STALE_AFTER = 3.0
_ATTENTION: dict[ChartState, int] = {
    "past_reaction_limit": 0,
    "signal": 1,
    "stale": 2,
    "in_control": 3,
    "no_baseline": 4,
    "too_few": 5,
}
_STATES: dict[str, ChartState] = {
    "in control": "in_control",
    "signal": "signal",
    "no baseline": "no_baseline",
    "too few": "too_few",
}


def overview(lab: Lab) -> OverviewFacts:
    """All charted properties with their state, those that need attention first."""
    baselines = newest_baselines(lab)
    rows = [
        _property_facts(lab, key, baselines.get(key))
        for key, entry in lab.specs.properties.items()
        if entry.chart != "none"
    ]
    return OverviewFacts(now=lab.now(), properties=tuple(sorted(rows, key=lambda one: _ATTENTION[one.state])))


def chart(lab: Lab, property: str, *, last: int = 120) -> ChartFacts:
    """One property's control chart over its last tests; raises InputError for an unknown property."""
    names = list(lab.specs.properties)
    if property not in names:
        raise impossible(property, "is not a property of the catalogue", nearest(property, names))
    frame = _history(lab, property, last)
    baseline = newest_baselines(lab).get(property)
    computed, places = _computed(lab, property, frame, baseline)
    state, words = _state_and_words(lab, property, frame, computed)
    specs, unit = lab.specs, display_unit(lab.specs, property)
    target = lab.sand.targets.get(property)
    return ChartFacts(
        property=property,
        label=specs.properties[property].label,
        short=specs.properties[property].short,
        unit=shown_unit(unit),
        decimals=display_decimals(specs.properties[property], unit),
        state=state,
        words=words,
        baseline=baseline_facts(lab, baseline) if baseline else None,
        target=to_display(specs, property, target.target) if target else None,
        tolerance=pair_to_display(
            specs, property, (target.target - target.tolerance, target.target + target.tolerance)
        )
        if target
        else None,
        reaction=pair_to_display(specs, property, target.reaction) if target else None,
        points=tuple(_point(lab, property, row) for row in frame.iter_rows(named=True)),
        signals=_signal_facts(frame, computed, places),
        events=events(lab, frame["taken_at"][0]) if frame.height else (),
    )


def chart_alarms(lab: Lab, properties: Collection[str]) -> dict[str, tuple[str, str]]:
    """Side and reason of the present chart alarm of each property that has one."""
    baselines = newest_baselines(lab)
    found: dict[str, tuple[str, str]] = {}
    for key in properties:
        computed, _ = _computed(lab, key, _history(lab, key, RECENT), baselines.get(key))
        if computed.latest_alarm is not None:
            found[key] = (computed.latest_alarm.side, computed.latest_alarm.reason)
    return found


def alarms_at(lab: Lab, sample: Sample) -> list[tuple[str, str]]:
    """Property and reason of every chart alarm that a sample's results completed."""
    baselines = newest_baselines(lab)
    found = []
    for result in sample.results:
        key = result.property
        if key not in baselines or schedule.home_point(lab.sand, key) != sample.point:
            continue
        frame = _history(lab, key, RECENT)
        computed, places = _computed(lab, key, frame, baselines[key])
        samples = frame["sample"].to_list()
        found += [
            (key, one.reason)
            for one in computed.signals
            if one.alarm and samples[places[one.index]] == sample.id
        ]
    return found


def _history(lab: Lab, property: str, last: int) -> pl.DataFrame:
    point = schedule.home_point(lab.sand, property)
    return lab.store.results(lab.system, property, point=point, last=last)


def _computed(
    lab: Lab, property: str, frame: pl.DataFrame, baseline: Baseline | None
) -> tuple[charts.IndividualsChart, list[int]]:
    """The chart in display units, so that its reasons carry the numbers people see."""
    values, places = slots(lab, property, frame)
    entry, unit = lab.specs.properties[property], display_unit(lab.specs, property)
    computed = charts.individuals(
        np.array([to_display(lab.specs, property, value) for value in values]),
        None,
        display_limits(lab, baseline) if baseline else None,
        decimals=display_decimals(entry, unit),
        unit=shown_unit(unit),
    )
    return computed, places


def _state_and_words(
    lab: Lab, property: str, frame: pl.DataFrame, computed: charts.IndividualsChart
) -> tuple[ChartState, str]:
    if frame.is_empty():
        return "too_few", "Not tested yet."
    value, at = frame["value"][-1], frame["taken_at"][-1]
    target = lab.sand.targets.get(property)
    if target and past_reaction(value, target):
        low, high = (text_of(lab.specs, property, end) for end in target.reaction)
        shown = text_of(lab.specs, property, value)
        return "past_reaction_limit", f"{shown} is past the reaction limits {low} to {high}: react at once."
    state = _STATES[computed.state]
    every = usual_interval_min(lab, property)
    age = (lab.now() - at) / timedelta(minutes=1)
    if state == "in_control" and every and age > STALE_AFTER * every:
        return "stale", f"Last test {age_words(age)} ago: what the sand is now is not known."
    return state, computed.sentence


def _point(lab: Lab, property: str, row: dict[str, object]) -> PointFacts:
    return PointFacts.model_validate(
        {
            "at": row["taken_at"],
            "value": to_display(lab.specs, property, row["value"]),  # type: ignore[arg-type]
            "sample": row["sample"],
            "by": row["by"],
            "corrected": row["revision"] != 0,
            "flags": tuple(row["flags"]),  # type: ignore[arg-type]
        }
    )


def _signal_facts(
    frame: pl.DataFrame, computed: charts.IndividualsChart, places: list[int]
) -> tuple[SignalFacts, ...]:
    """Signals by the number of the plotted point: slots of missing tests are taken out again."""
    times = frame["taken_at"].to_list()
    return tuple(
        SignalFacts(
            rule=one.rule,
            alarm=one.alarm,
            at=times[places[one.index]],
            index=places[one.index],
            members=tuple(places[member] for member in one.members if places[member] >= 0),
            side=one.side,
            reason=one.reason,
        )
        for one in computed.signals
    )


def _property_facts(lab: Lab, key: str, baseline: Baseline | None) -> PropertyFacts:
    frame = _history(lab, key, RECENT)
    computed, _ = _computed(lab, key, frame, baseline)
    state, words = _state_and_words(lab, key, frame, computed)
    entry, unit = lab.specs.properties[key], display_unit(lab.specs, key)
    last = None if frame.is_empty() else frame["value"][-1]
    shown = display_limits(lab, baseline) if baseline else None
    return PropertyFacts(
        property=key,
        label=entry.label,
        short=entry.short,
        unit=shown_unit(unit),
        decimals=display_decimals(entry, unit),
        state=state,
        words=words,
        last_value=None if last is None else to_display(lab.specs, key, last),
        last_text=text_of(lab.specs, key, last),
        last_at=None if frame.is_empty() else frame["taken_at"][-1],
        recent=tuple(to_display(lab.specs, key, value) for value in frame["value"]),
        lower=shown.lower if shown else None,
        upper=shown.upper if shown else None,
    )


def picture(facts: ChartFacts, *, mark: str = ".") -> ChartPicture:
    """The chart as shapes in data units; a pause between tests shows by their times."""
    times = np.array([_microseconds(point.at) for point in facts.points], dtype=np.int64)
    sides: dict[str, Literal[-1, 0, 1]] = {"up": 1, "down": -1}
    baseline = facts.baseline
    return ChartPicture(
        times=times,
        values=np.array([point.value for point in facts.points], dtype=np.float64),
        title=facts.label,
        unit=facts.unit,
        decimals=facts.decimals,
        decimal_mark=mark,
        centre=baseline.centre if baseline else None,
        lower=baseline.lower if baseline else None,
        upper=baseline.upper if baseline else None,
        tolerance_low=facts.tolerance[0] if facts.tolerance else None,
        tolerance_high=facts.tolerance[1] if facts.tolerance else None,
        reaction_low=facts.reaction[0] if facts.reaction else None,
        reaction_high=facts.reaction[1] if facts.reaction else None,
        flags=tuple(Flag(one.index, sides.get(one.side, 0), one.alarm, one.members) for one in facts.signals),
        events=tuple(EventMark(_microseconds(one.at), one.text) for one in facts.events),
        baselines=(BaselineSpan(_microseconds(baseline.window_from), _microseconds(baseline.window_to)),)
        if baseline
        else (),
    )


def _microseconds(moment: datetime) -> int:
    return (moment - datetime.fromtimestamp(0, UTC)) // timedelta(microseconds=1)
