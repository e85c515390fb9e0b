"""Frozen chart limits: chosen by a person, kept with who and why, in force until the next ones."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from sandlab import charts, schedule
from sandlab.errors import InputError, Problem, impossible, nearest
from sandlab.lab.facts import BaselineFacts
from sandlab.lab.opening import Lab
from sandlab.lab.showing import to_display, width_to_display
from sandlab.records import Baseline

# A gap of more than this many intervals between two tests is a missing test.
MISSING_AFTER = 1.6


def freeze_baseline(
    lab: Lab,
    property: str,
    *,
    window_from: datetime,
    window_to: datetime,
    by: str,
    reason: str,
    excluded: Collection[str] = (),
) -> BaselineFacts:
    """Freeze chart limits from a window, with who and why; they hold until somebody freezes new ones."""
    if property not in lab.specs.properties:
        hint = nearest(property, list(lab.specs.properties))
        raise impossible(property, "is not a property of the catalogue", hint)
    problems = [
        Problem(name, "is empty", f"say {name}")
        for name, text in (("who", by), ("why", reason))
        if not text.strip()
    ]
    if problems:
        raise InputError(problems)
    point = schedule.home_point(lab.sand, property)
    frame = lab.store.results(lab.system, property, since=window_from, until=window_to, point=point)
    kept = frame.filter(~pl.col("sample").is_in(list(excluded)))
    values, _ = slots(lab, property, kept)
    limits = charts.freeze(values)
    baseline = Baseline(
        id=lab.new_id(),
        system=lab.system,
        at=window_to,
        by=by.strip(),
        recorded_at=lab.now(),
        reason=reason.strip(),
        property=property,
        point=point,
        window_from=window_from,
        window_to=window_to,
        count=limits.count,
        centre=limits.centre,
        sigma=limits.sigma_overall,
        sigma_moving_range=limits.sigma_moving_range,
        lag1=limits.lag1,
        width=limits.width,
        excluded=tuple(excluded),
    )
    lab.store.save([baseline])
    return baseline_facts(lab, baseline)


def newest_baselines(lab: Lab) -> dict[str, Baseline]:
    """The baseline in force per property: the one frozen last."""
    stored = lab.store.records(Baseline, lab.system)
    return {one.property: one for one in sorted(stored, key=lambda one: one.recorded_at)}


def baseline_facts(lab: Lab, baseline: Baseline) -> BaselineFacts:
    """A stored baseline in display units."""
    limits = display_limits(lab, baseline)
    return BaselineFacts(
        baseline=baseline.id,
        frozen_by=baseline.by,
        frozen_at=baseline.recorded_at,
        reason=baseline.reason,
        window_from=baseline.window_from,
        window_to=baseline.window_to,
        count=baseline.count,
        centre=limits.centre,
        lower=limits.lower,
        upper=limits.upper,
        sigma=limits.sigma,
        sigma_moving_range=limits.sigma_moving_range,
        lag1=limits.lag1,
        width=limits.width,
    )


def display_limits(lab: Lab, baseline: Baseline) -> charts.Limits:
    """The chart limits of a stored baseline in display units, within what can be measured."""
    key = baseline.property
    low, high = lab.specs.properties[key].impossible
    return charts.Limits(
        centre=to_display(lab.specs, key, baseline.centre),
        sigma=width_to_display(lab.specs, key, baseline.sigma),
        count=baseline.count,
        sigma_overall=width_to_display(lab.specs, key, baseline.sigma),
        sigma_moving_range=width_to_display(lab.specs, key, baseline.sigma_moving_range),
        lag1=baseline.lag1,
        width=baseline.width,
        floor=to_display(lab.specs, key, low),
        ceiling=to_display(lab.specs, key, high),
    )


def usual_interval_min(lab: Lab, property: str) -> float | None:
    """Minutes between scheduled tests; for a derived property those of its rarest input."""
    scheduled = schedule.property_interval_min(lab.sand, property)
    if scheduled is not None:
        return scheduled
    inputs = [
        source
        for method in lab.specs.methods.values()
        if method.property == property
        for source in method.derived_from.values()
    ]
    return max((every for source in inputs if (every := usual_interval_min(lab, source))), default=None)


def slots(
    lab: Lab, property: str, frame: pl.DataFrame
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], list[int]]:
    """Stored values with a hole (NaN) where a scheduled test is missing; each slot's frame row, or -1."""
    every = usual_interval_min(lab, property)
    longest = timedelta(minutes=MISSING_AFTER * every) if every else None
    values: list[float] = []
    places: list[int] = []
    previous: datetime | None = None
    for row, (at, value) in enumerate(frame.select("taken_at", "value").iter_rows()):
        if previous is not None and longest is not None and at - previous > longest:
            values.append(np.nan)
            places.append(-1)
        values.append(value)
        places.append(row)
        previous = at
    return np.array(values, dtype=np.float64), places
