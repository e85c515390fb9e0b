"""Where charts come from by name: a property's tests, or the kilograms that a feeder gave per batch."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from sandlab import charts, schedule
from sandlab.charts.baseline import ENOUGH_BASELINE, Flag
from sandlab.errors import impossible, nearest
from sandlab.lab.facts import PointFacts
from sandlab.lab.foreseen import foreseen_property
from sandlab.lab.opening import Lab
from sandlab.lab.series import Floats, Series, slotted
from sandlab.lab.showing import (
    bound_flag,
    display_decimals,
    display_unit,
    pair_to_display,
    shown_unit,
    text_of,
    to_display,
    width_to_display,
)
from sandlab.records import Baseline, Batch
from sandlab.specs import Target

ADDED = "_kg"
HOUR_MIN = 60.0


def names(lab: Lab) -> list[str]:
    """Everything that can be charted by name."""
    return [*lab.specs.properties, *additions(lab)]


def additions(lab: Lab) -> list[str]:
    """What the feeders give, as names of charts: water_kg, bentonite_kg ..."""
    return [f"{feeder}{ADDED}" for feeder in lab.sand.feeders]


def require(lab: Lab, name: str) -> None:
    """Raise for a name that nothing is charted under."""
    known = names(lab)
    if foreseen_property(name) in lab.specs.properties:
        do = f"look at it with sandlab chart {name}, or name {foreseen_property(name)}"
        raise impossible(name, "is judged by what the balance expects, and only charted", do)
    if name not in known:
        raise impossible(name, "is not a property of the catalogue", nearest(name, known))


def read(
    lab: Lab,
    name: str,
    *,
    since: datetime | None = None,
    until: datetime | None = None,
    last: int | None = None,
    baseline: Baseline | None = None,
) -> Series:
    """The tests of a property, or the hourly means of an addition, against a stored baseline."""
    require(lab, name)
    if name in lab.specs.properties:
        return _tests(lab, name, rows(lab, name, since=since, until=until, last=last), baseline)
    return _added(lab, name, batches(lab, since=since, until=until, hours=last), baseline)


def rows(
    lab: Lab,
    name: str,
    *,
    since: datetime | None = None,
    until: datetime | None = None,
    last: int | None = None,
) -> pl.DataFrame:
    """The values in force of a property at the point where it is tested."""
    point = schedule.home_point(lab.sand, name)
    return lab.store.results(lab.system, name, since=since, until=until, point=point, last=last)


def batches(
    lab: Lab, *, since: datetime | None = None, until: datetime | None = None, hours: int | None = None
) -> pl.DataFrame:
    """The batches of about so many hours of work, a row for each material."""
    last = None if hours is None else round(hours * lab.sand.muller.batches_per_h)
    return lab.store.frame(Batch, lab.system, since=since, until=until, last=last)


def _tests(lab: Lab, name: str, frame: pl.DataFrame, baseline: Baseline | None) -> Series:
    specs, entry = lab.specs, lab.specs.properties[name]
    unit = display_unit(specs, name)
    every = usual_interval_min(lab, name)
    shown = _displayed(lab, name, frame["value"].to_numpy())
    values, places, times = slotted(frame["taken_at"].dt.epoch("us").to_numpy(), shown, every)
    columns = ("taken_at", "sample", "by", "revision", "flags", "value", "censored")
    points = tuple(
        PointFacts.model_construct(
            at=at,
            value=value,
            sample=sample,
            by=by,
            corrected=revision != 0,
            flags=(*flags, *bound_flags(lab, name, stored, censored)),
        )
        for value, (at, sample, by, revision, flags, stored, censored) in zip(
            shown.tolist(), frame.select(columns).iter_rows(), strict=True
        )
    )
    found = Series(
        name=name,
        label=entry.label,
        short=entry.short,
        unit=shown_unit(unit),
        decimals=display_decimals(entry, unit),
        values=values,
        places=places,
        times_us=times,
        points=points,
        every_min=every,
        limits=display_limits(lab, baseline) if baseline else None,
        rules=entry.rules,
        mark=lab.mark,
    )
    return aimed_at(lab, found, lab.sand.targets.get(name))


def bound_flags(lab: Lab, name: str, stored: float, censored: str) -> tuple[str, ...]:
    """The flag of a stored value that is only a bound."""
    return (bound_flag(text_of(lab.specs, name, stored, censored=censored)),) if censored else ()


def aimed_at(lab: Lab, series: Series, target: Target | None) -> Series:
    """The tests against a target, today's or that of another time."""
    if target is None:
        return replace(series, target=None, tolerance=None, reaction=None)
    specs, name = lab.specs, series.name
    ends = target.target - target.tolerance, target.target + target.tolerance
    return replace(
        series,
        target=to_display(specs, name, target.target),
        tolerance=pair_to_display(specs, name, ends),
        reaction=pair_to_display(specs, name, target.reaction),
    )


def _displayed(lab: Lab, name: str, stored: Floats) -> Floats:
    """Values in the display unit; conversion is linear, so two points tell it."""
    zero = to_display(lab.specs, name, 0.0)
    step = to_display(lab.specs, name, 1.0) - zero
    if (zero, step) == (0.0, 1.0):
        return stored
    return np.array([to_display(lab.specs, name, value) for value in stored.tolist()], dtype=np.float64)


def _added(lab: Lab, name: str, frame: pl.DataFrame, baseline: Baseline | None) -> Series:
    """Mean kg per batch of each hour of work, at its last batch."""
    feeder = name.removesuffix(ADDED)
    hourly = (
        frame.filter(pl.col("material") == feeder)
        .group_by(pl.col("at").dt.truncate("1h").alias("hour"))
        .agg(pl.col("kg").mean(), pl.col("at").max(), pl.col("id").last(), pl.col("by").last())
        .sort("hour")
    )
    kg = hourly["kg"].to_numpy()
    values, places, times = slotted(hourly["hour"].dt.epoch("us").to_numpy(), kg, HOUR_MIN)
    points = tuple(
        PointFacts(at=at, value=value, sample=batch, by=by, corrected=False, flags=())
        for at, value, batch, by in hourly.select("at", "kg", "id", "by").iter_rows()
    )
    resolution = lab.sand.feeders[feeder].resolution_kg
    return Series(
        name=name,
        label=f"{feeder.replace('_', ' ').capitalize()} per batch",
        short=feeder.replace("_", " "),
        unit="kg",
        decimals=1 if resolution < 1.0 else 0,
        values=values,
        places=places,
        times_us=times,
        points=points,
        every_min=HOUR_MIN,
        limits=display_limits(lab, baseline) if baseline else None,
        mark=lab.mark,
    )


def display_limits(lab: Lab, baseline: Baseline) -> charts.Limits:
    """The chart limits of a stored baseline in display units, within what can be measured."""
    key = baseline.property
    centre, sigma, ranges = baseline.centre, baseline.sigma, baseline.sigma_moving_range
    floor: float = 0.0
    ceiling: float | None = None
    if key in lab.specs.properties:
        floor, ceiling = pair_to_display(lab.specs, key, lab.specs.properties[key].impossible)
        centre = to_display(lab.specs, key, centre)
        sigma, ranges = (width_to_display(lab.specs, key, value) for value in (sigma, ranges))
    return charts.Limits(
        centre=centre,
        sigma=sigma,
        count=baseline.count,
        sigma_overall=sigma,
        sigma_moving_range=ranges,
        lag1=baseline.lag1,
        width=baseline.width,
        floor=floor,
        ceiling=ceiling,
        flags=_flags(baseline),
    )


def _flags(baseline: Baseline) -> tuple[Flag, ...]:
    """What a stored baseline shows of itself: the marks that freezing gave it, as far as they are kept."""
    if baseline.sigma == 0.0:
        return ("constant",)
    raised: dict[Flag, bool] = {
        "few": baseline.count < ENOUGH_BASELINE,
        "autocorrelated": baseline.lag1 > 1.96 / baseline.count**0.5,
    }
    return tuple(flag for flag, is_raised in raised.items() if is_raised)


def usual_interval_min(lab: Lab, property: str) -> float | None:
    """Minutes between scheduled tests; for a derived property those of its rarest input."""
    if property not in lab.specs.properties:
        return HOUR_MIN
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


def age_min(lab: Lab, series: Series) -> float:
    """Minutes since the last test."""
    at = series.points[-1].at
    return 0.0 if at is None else (lab.now() - at) / timedelta(minutes=1)
