"""Parts of a report about numbers: results against tolerance, additions set against made, capability."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import datetime

import numpy as np
import polars as pl

from sandlab import schedule
from sandlab.lab import figuring
from sandlab.lab.additions import kg_decimals, signed
from sandlab.lab.estimates import feeder_label
from sandlab.lab.facts.report import ReportAdditionFacts, ReportCapabilityFacts, ReportResultFacts
from sandlab.lab.judging import stored_state
from sandlab.lab.opening import Lab
from sandlab.lab.periods import Period
from sandlab.lab.showing import display_unit, shown_unit, text_of, to_display
from sandlab.lab.sources import aimed_at, read
from sandlab.lab.sources import batches as batches_between
from sandlab.lab.sources import rows as tests_between
from sandlab.lab.specs_then import Then, differing, tolerances
from sandlab.quantities import format_number
from sandlab.reactions import past_reaction
from sandlab.records import Override, Release
from sandlab.specs import Target

LEAST_FOR_CAPABILITY = 20


def results_of(lab: Lab, period: Period, then: Then) -> tuple[ReportResultFacts, ...]:
    """Every property tested in the period at its own point, in the order of the catalogue."""
    names = list(lab.specs.properties)
    frame = lab.store.results_of(lab.system, names, since=period.since, until=period.until)
    found = []
    for (key,), rows in frame.group_by("property", maintain_order=True):
        own = rows.filter(pl.col("point") == schedule.home_point(lab.sand, str(key)))
        if not own.is_empty():
            found.append(_result(lab, str(key), own, then))
    return tuple(sorted(found, key=lambda one: names.index(one.property)))


def _result(lab: Lab, key: str, rows: pl.DataFrame, then: Then) -> ReportResultFacts:
    """One property, each value judged by the target in force when it was taken."""
    tests: list[tuple[str, datetime, float]] = list(rows.select("sample", "taken_at", "value").iter_rows())
    values = [value for _, _, value in tests]
    judged = [(value, then.target(sample, key)) for sample, _, value in tests]
    aimed = [(value, target) for value, target in judged if target is not None]
    stretches = then.stretches(key, [(sample, at) for sample, at, _ in tests])
    low_, mean, high_ = min(values), float(np.mean(values)), max(values)
    last, censored = values[-1], rows["censored"][-1]
    return ReportResultFacts(
        property=key,
        label=lab.specs.properties[key].label,
        unit=shown_unit(display_unit(lab.specs, key)),
        count=len(values),
        low=to_display(lab.specs, key, low_),
        mean=to_display(lab.specs, key, mean),
        high=to_display(lab.specs, key, high_),
        low_text=text_of(lab.specs, key, low_),
        mean_text=text_of(lab.specs, key, mean),
        high_text=text_of(lab.specs, key, high_),
        aim=tolerances(lab, key, stretches),
        outside=sum(_outside(value, target) for value, target in aimed),
        past=sum(bool(past_reaction(value, target)) for value, target in aimed),
        judged_by=differing(lab, key, stretches),
        last_text=text_of(lab.specs, key, last, censored=censored),
        last_at=rows["taken_at"][-1],
        last_state=stored_state(lab, key, last, then=then.specs(tests[-1][0])),
    )


def _outside(value: float, target: Target) -> bool:
    slack = 1e-9 * max(1.0, abs(target.target))
    return abs(value - target.target) > target.tolerance + slack


def additions_of(lab: Lab, period: Period) -> tuple[ReportAdditionFacts, ...]:
    """For each feeder what was set for the batches of the period and what they really got."""
    frame = batches_between(lab, since=period.since, until=period.until)
    frame = frame.filter(pl.col("material").is_not_null())
    if frame.is_empty():
        return ()
    recommended = _Settings(lab, period, overridden=False)
    set_ = _Settings(lab, period, overridden=True)
    found = []
    for name in lab.sand.feeders:
        rows = list(frame.filter(pl.col("material") == name).select("at", "kg").iter_rows())
        if rows:
            made = [kg for _, kg in rows]
            means = [one.mean(name, [at for at, _ in rows]) for one in (recommended, set_)]
            found.append(_addition(lab, name, made, *means))
    return tuple(found)


class _Settings:
    """What the feeders were to give from when on: each release, and the operator's override of it."""

    def __init__(self, lab: Lab, period: Period, *, overridden: bool) -> None:
        releases = {one.id: one for one in lab.store.records(Release, lab.system, until=period.until)}
        found = [(one.at, dict(one.added_kg)) for one in releases.values()]
        for one in lab.store.records(Override, lab.system, until=period.until) if overridden else ():
            if one.release in releases:
                found.append((one.at, {**releases[one.release].added_kg, **one.added_kg}))
        found.sort(key=lambda each: each[0])
        self._times = [at for at, _ in found]
        self._kg = [kg for _, kg in found]

    def mean(self, feeder: str, times: Sequence[datetime]) -> float | None:
        """Mean kg over batches; none where not every batch had a setting, as the two cannot be compared."""
        places = [bisect_right(self._times, at) - 1 for at in times]
        kg = [self._kg[place][feeder] for place in places if place >= 0 and feeder in self._kg[place]]
        return float(np.mean(kg)) if len(kg) == len(times) else None


def _addition(
    lab: Lab, name: str, made: Sequence[float], recommended: float | None, set_: float | None
) -> ReportAdditionFacts:
    decimals = kg_decimals(lab.sand.feeders[name].resolution_kg) + 1

    def text(kg: float | None) -> str:
        return format_number(kg, decimals, mark=lab.mark)

    made_kg = float(np.mean(made))
    return ReportAdditionFacts(
        feeder=name,
        label=feeder_label(lab, name),
        batches=len(made),
        recommended_kg=recommended,
        set_kg=set_,
        made_kg=made_kg,
        total_kg=float(sum(made)),
        recommended_text=text(recommended),
        set_text=text(set_),
        made_text=text(made_kg),
        difference_text="-" if recommended is None else signed(made_kg - recommended, decimals, lab.mark),
        total_text=format_number(float(sum(made)), 0, mark=lab.mark),
    )


def capability_of(
    lab: Lab, period: Period, results: Sequence[ReportResultFacts], then: Then
) -> tuple[ReportCapabilityFacts, ...]:
    """How each property with a tolerance and enough tests fitted it in the period.

    Tests of two tolerances make no index: the last with enough tests counts, and the label says when it held.
    """
    found = []
    for one in results:
        tests = tests_between(lab, one.property, since=period.since, until=period.until)
        stretches = then.stretches(one.property, list(tests.select("sample", "taken_at").iter_rows()))
        for stretch in reversed(stretches):
            series = read(lab, one.property, since=stretch.since, until=stretch.until)
            if stretch.target is not None and series.count >= LEAST_FOR_CAPABILITY:
                break
        else:
            continue
        series = aimed_at(lab, series, stretch.target)
        start, end = (f"{at.astimezone(lab.zone):%d %b %H:%M}" for at in (stretch.since, stretch.until))
        when = f" ({start} to {end})" if len(stretches) > 1 else ""
        facts, _ = figuring.or_reason(lambda: figuring.capability(series, series.values))  # noqa: B023
        if facts is not None:
            found.append(
                ReportCapabilityFacts(
                    property=one.property,
                    label=one.label + when,
                    count=facts.count,
                    outside=facts.outside,
                    cpk=facts.cpk.value,
                    ppk=facts.ppk.value,
                    ppk_low=facts.ppk.low,
                    ppk_high=facts.ppk.high,
                )
            )
    return tuple(found)
