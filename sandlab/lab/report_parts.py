"""Parts of a report about numbers: results against tolerance, additions set against made, capability."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Sequence
from datetime import UTC, datetime

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
from sandlab.lab.sources import batches as batches_between
from sandlab.lab.sources import read
from sandlab.quantities import format_number
from sandlab.reactions import past_reaction
from sandlab.records import Override, Release

LEAST_FOR_CAPABILITY = 20


def results_of(lab: Lab, period: Period) -> tuple[ReportResultFacts, ...]:
    """Every property tested in the period at its own point, in the order of the catalogue."""
    names = list(lab.specs.properties)
    frame = lab.store.results_of(lab.system, names, since=period.since, until=period.until)
    found = []
    for (key,), rows in frame.group_by("property", maintain_order=True):
        own = rows.filter(pl.col("point") == schedule.home_point(lab.sand, str(key)))
        if not own.is_empty():
            found.append(_result(lab, str(key), own))
    return tuple(sorted(found, key=lambda one: names.index(one.property)))


def _result(lab: Lab, key: str, rows: pl.DataFrame) -> ReportResultFacts:
    values = rows["value"].to_list()
    target = lab.sand.targets.get(key)
    outside = past = 0
    aim = ""
    if target is not None:
        slack = 1e-9 * max(1.0, abs(target.target))
        outside = sum(abs(value - target.target) > target.tolerance + slack for value in values)
        past = sum(bool(past_reaction(value, target)) for value in values)
        low, high = (text_of(lab.specs, key, target.target + side * target.tolerance) for side in (-1, 1))
        aim = f"{low} to {high}"
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
        aim=aim,
        outside=outside,
        past=past,
        last_text=text_of(lab.specs, key, last, censored=censored),
        last_at=rows["taken_at"][-1],
        last_state=stored_state(lab, key, last),
    )


def additions_of(lab: Lab, period: Period) -> tuple[ReportAdditionFacts, ...]:
    """For each feeder what was set for the batches of the period and what they really got."""
    frame = batches_between(lab, since=period.since, until=period.until)
    frame = frame.filter(pl.col("material").is_not_null())
    if frame.is_empty():
        return ()
    settings = _settings(lab, period)
    times = [at for at, _ in settings]
    made: dict[str, list[float]] = defaultdict(list)
    set_: dict[str, list[float]] = defaultdict(list)
    for at, feeder, kg in frame.select("at", "material", "kg").iter_rows():
        made[feeder].append(kg)
        place = bisect_right(times, at) - 1
        if place >= 0 and feeder in settings[place][1]:
            set_[feeder].append(settings[place][1][feeder])
    return tuple(_addition(lab, name, made[name], set_[name]) for name in lab.sand.feeders if made[name])


def _settings(lab: Lab, period: Period) -> list[tuple[datetime, dict[str, float]]]:
    """What the feeders were to give from when on: the release, then the operator's override of it."""
    releases = {one.id: one for one in lab.store.records(Release, lab.system, until=period.until)}
    found = [(one.at, dict(one.added_kg)) for one in releases.values()]
    for one in lab.store.records(Override, lab.system, until=period.until):
        if one.release in releases:
            found.append((one.at, {**releases[one.release].added_kg, **one.added_kg}))
    return sorted(found, key=lambda each: each[0])


def _addition(lab: Lab, name: str, made: Sequence[float], set_: Sequence[float]) -> ReportAdditionFacts:
    decimals = kg_decimals(lab.sand.feeders[name].resolution_kg) + 1
    made_kg = float(np.mean(made))
    # Only where every batch had a setting can the two be compared.
    set_kg = float(np.mean(set_)) if len(set_) == len(made) else None
    difference = "-" if set_kg is None else signed(made_kg - set_kg, decimals, lab.mark)
    return ReportAdditionFacts(
        feeder=name,
        label=feeder_label(lab, name),
        batches=len(made),
        set_kg=set_kg,
        made_kg=made_kg,
        total_kg=float(sum(made)),
        set_text=format_number(set_kg, decimals, mark=lab.mark),
        made_text=format_number(made_kg, decimals, mark=lab.mark),
        difference_text=difference,
        total_text=format_number(float(sum(made)), 0, mark=lab.mark),
    )


def capability_of(
    lab: Lab, period: Period, results: Sequence[ReportResultFacts]
) -> tuple[ReportCapabilityFacts, ...]:
    """How each property with a tolerance and enough tests fitted it in the period."""
    found = []
    for one in results:
        if not one.aim or one.count < LEAST_FOR_CAPABILITY:
            continue
        series = read(lab, one.property, since=period.since, until=period.until)
        facts, _ = figuring.or_reason(lambda: figuring.capability(series, series.values))  # noqa: B023
        if facts is not None:
            found.append(
                ReportCapabilityFacts(
                    property=one.property,
                    label=one.label,
                    count=facts.count,
                    outside=facts.outside,
                    cpk=facts.cpk.value,
                    ppk=facts.ppk.value,
                    ppk_low=facts.ppk.low,
                    ppk_high=facts.ppk.high,
                )
            )
    return tuple(found)


def tests_done(lab: Lab, period: Period) -> tuple[str, ...]:
    """How many of the scheduled tests of each set were taken: "Hourly set: 7 of 8"."""
    said = []
    since = period.since or datetime.fromtimestamp(0, UTC)
    until = min(period.until or lab.now(), lab.now())
    for one in lab.sand.schedule.values():
        due = schedule.due_times(one, zone=lab.zone, start=since, end=until)
        frame = lab.store.results_of(
            lab.system, one.properties, since=period.since, until=period.until, point=one.point
        )
        if due:
            slots = {bisect_right(due, at) for at in frame["taken_at"].unique().to_list()}
            said.append(f"{one.label}: {min(len(slots), len(due))} of {len(due)}")
    return tuple(said)
