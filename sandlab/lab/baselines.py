"""Frozen chart limits: chosen by a person, kept with who and why, in force until the next ones."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime

import numpy as np

from sandlab import charts, schedule
from sandlab.errors import InputError, Problem
from sandlab.lab.facts import BaselineFacts, SpanFacts
from sandlab.lab.leaving import left_out
from sandlab.lab.opening import Lab
from sandlab.lab.series import Floats, Series, unfrozen
from sandlab.lab.showing import to_stored
from sandlab.lab.sources import display_limits, read, require
from sandlab.records import Baseline

MOST_REASON = 2000


def freeze_baseline(
    lab: Lab,
    property: str,
    *,
    window_from: datetime,
    window_to: datetime,
    by: str,
    reason: str,
    excluded: Collection[str] | Mapping[str, str] = (),
) -> BaselineFacts:
    """Freeze chart limits from a window, with who and why; they hold until somebody freezes new ones.

    `excluded` are samples left out; given with a reason each, the reasons are kept beside the baseline's own.
    Tests that were left out of limits before are left out in any case. Raises InputError for a sample that
    has no test of the property in the window.
    """
    require(lab, property)
    _require_said(by, reason, window_from, window_to)
    window = read(lab, property, since=window_from, until=window_to)
    # Tests to come are no part of the window, else nothing would ever be held against it.
    newest = max((point.at for point in window.points if point.at is not None), default=window_to)
    window_to = min(window_to, max(lab.now(), newest))
    known = {point.sample for point in window.points}
    strange = [one for one in excluded if one not in known]
    if strange:
        what = "is no sample of the window in which it was tested"
        raise InputError(
            [Problem(one, what, f"take its name from sandlab chart {property} --json") for one in strange]
        )
    excluded = left_out(window.points) | (
        dict(excluded) if isinstance(excluded, Mapping) else dict.fromkeys(excluded, "")
    )
    limits = charts.freeze(_stored(lab, property, without(window, excluded)))
    baseline = Baseline(
        id=lab.new_id(),
        system=lab.system,
        at=window_to,
        by=by.strip(),
        recorded_at=lab.now(),
        reason=_reason(reason, excluded),
        property=property,
        point=schedule.home_point(lab.sand, property),
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


def _require_said(by: str, reason: str, window_from: datetime, window_to: datetime) -> None:
    """Raise InputError unless who and why are said and the window ends after it begins."""
    problems = [
        Problem(name, "is empty", f"say {name}")
        for name, text in (("who", by), ("why", reason))
        if not text.strip()
    ]
    if window_from > window_to:
        problems.append(Problem("window", "ends before it begins", "give the earlier time first"))
    if problems:
        raise InputError(problems)


def _reason(reason: str, excluded: Mapping[str, str]) -> str:
    """Why, with the reason of each test left out."""
    said = [one for one in excluded.values() if one]
    told = f"{reason.strip()}; left out: {'; '.join(said)}" if said else reason.strip()
    return told[:MOST_REASON]


def _stored(lab: Lab, name: str, shown: Floats) -> Floats:
    """Values in the catalogue's unit again."""
    if name not in lab.specs.properties:
        return shown
    return np.array([to_stored(lab.specs, name, value) for value in shown.tolist()], dtype=np.float64)


def without(window: Series, excluded: Collection[str]) -> Floats:
    """The values of a window with a hole in place of each excluded sample."""
    out = {place for place, point in enumerate(window.points) if point.sample in excluded}
    values = window.values.copy()
    values[[slot for slot, place in enumerate(window.places.tolist()) if place in out]] = np.nan
    return values


def window_values(lab: Lab, baseline: Baseline) -> Floats:
    """The values that a stored baseline was frozen from, in display units."""
    window = read(lab, baseline.property, since=baseline.window_from, until=baseline.window_to)
    return without(window, baseline.excluded)


def all_baselines(lab: Lab) -> dict[str, list[Baseline]]:
    """Every baseline per property, the one in force last: the one frozen last."""
    found: dict[str, list[Baseline]] = {}
    for one in sorted(lab.store.records(Baseline, lab.system), key=lambda one: one.recorded_at):
        found.setdefault(one.property, []).append(one)
    return found


def newest_baselines(lab: Lab) -> dict[str, Baseline]:
    """The baseline in force per property."""
    return {name: stored[-1] for name, stored in all_baselines(lab).items()}


def span_facts(baseline: Baseline) -> SpanFacts:
    """Where a baseline lies on the time line."""
    return SpanFacts(
        window_from=baseline.window_from,
        window_to=baseline.window_to,
        frozen_by=baseline.by,
        reason=baseline.reason,
        count=baseline.count,
    )


def baseline_facts(lab: Lab, baseline: Baseline) -> BaselineFacts:
    """A stored baseline in display units."""
    return unfrozen(display_limits(lab, baseline), baseline.reason).model_copy(
        update={
            "baseline": baseline.id,
            "frozen_by": baseline.by,
            "frozen_at": baseline.recorded_at,
            "window_from": baseline.window_from,
            "window_to": baseline.window_to,
            "excluded": baseline.excluded,
        }
    )
