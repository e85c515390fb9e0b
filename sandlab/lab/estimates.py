"""Estimates of the balance as they are shown: value with its band, course over time, names of slow values."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np

from sandlab.balance import COMPONENTS
from sandlab.balance.composition import Floats
from sandlab.balance.forecast import Forecast
from sandlab.balance.recommender import Recommender
from sandlab.balance.stream import HOUR_US, Estimated
from sandlab.drawing import BandPicture
from sandlab.lab.facts import CourseFacts, EstimateFacts, SeenFacts
from sandlab.lab.opening import Lab
from sandlab.lab.series import microseconds, moment_of
from sandlab.lab.showing import (
    display_decimals,
    display_unit,
    shown_unit,
    to_display,
    width_to_display,
)
from sandlab.quantities import format_number

BAND = 1.645  # standard deviations of half a 90 % band
OUTLOOK = ("active_clay", "volatiles", "fixed_carbon", "inert_fines", "moisture", "sand_temperature")
COURSE_OF = {"sand_temperature": "temperature"}
_SLOW = {
    "clay_wear_factor": ("Wear factor of clay", "kg/100 kg, 1 %", 3),
    "carbon_wear_factor": ("Wear factor of carbon", "kg/100 kg, 1 %", 3),
    "core_retention": ("Core sand that stays", "share", 2),
    "bond": ("Working bond over active clay", "", 3),
    "carbon_source": ("Carbon from elsewhere", "% a cycle", 3),
    "fines_source": ("Fines from elsewhere", "% a cycle", 3),
    "demand_level": ("Moisture that the mean sand needs", "%", 2),
    "demand_clay": ("Moisture for clay", "% per 1 %", 3),
    "demand_carbon": ("Moisture for volatiles and carbon", "% per 1 %", 3),
    "demand_fines": ("Moisture for fines", "% per 1 %", 3),
    "demand_temperature": ("Moisture for heat above 40 C", "% per C", 3),
    "slope": ("Compactability for 1 % moisture", "points", 1),
    "moisture_demand": ("Moisture beside what the sand explains", "%", 2),
    "water_balance": ("Moisture that the water balance is off", "%", 2),
}
"""Name of a learned value -> what it is called, its unit, decimals."""


def slow_words(lab: Lab, name: str) -> tuple[str, str, int, float]:
    """Label, unit, decimals and factor of a value that changes slowly."""
    if name in _SLOW:
        return (*_SLOW[name], 1.0)
    kind, _, which = name.partition(" ")
    if kind == "feeder":
        return f"{feeder_label(lab, which)} fed, against the log", "%", 1, 100.0
    if kind == "lot":
        entry = lab.specs.materials.get(which)
        label = entry.label.partition(",")[0] if entry else which
        return f"{label} assay, against the paper", "%", 1, 100.0
    return f"Wear at {which.removeprefix('of ')}", "times", 2, 1.0


def feeder_label(lab: Lab, feeder: str) -> str:
    """A feeder by the material that it holds, without brand and lot; core sand by its own name."""
    if feeder not in lab.sand.feeders:
        return feeder.replace("_", " ").capitalize()
    return lab.specs.materials[lab.sand.feeders[feeder].material].label.partition(",")[0]


def slow(lab: Lab, name: str, known: Estimated) -> EstimateFacts:
    """One slow value with its band."""
    label, unit, decimals, factor = slow_words(lab, name)
    value, sd = known.value * factor, known.sd * factor
    low, high = value - BAND * sd, value + BAND * sd
    return EstimateFacts(
        name=name.replace(" ", "_"),
        label=label,
        unit=unit,
        decimals=decimals,
        value=value,
        sd=sd,
        low=low,
        high=high,
        text=band_text(lab, value, low, high, decimals),
        target=None,
        tolerance=None,
        words="",
    )


def band_text(lab: Lab, value: float, low: float, high: float, decimals: int) -> str:
    """A value with its band, as in `8.02 (7.80 to 8.24)`."""
    shown, least, most = (format_number(one, decimals, mark=lab.mark) for one in (value, low, high))
    return f"{shown} ({least} to {most})"


def estimate(lab: Lab, key: str, known: Estimated, *, target: bool = True) -> EstimateFacts:
    """One property's estimate in the display unit, and how it lies to its target.

    The moisture is what the sand needs at the target compactability: it has no target of its own.
    """
    target = target and key != "moisture"
    entry, unit = lab.specs.properties[key], display_unit(lab.specs, key)
    decimals = display_decimals(entry, unit) + (1 if entry.decimals == 1 else 0)
    value, sd = to_display(lab.specs, key, known.value), width_to_display(lab.specs, key, known.sd)
    low, high = value - BAND * sd, value + BAND * sd
    aim, ends = target_of(lab, key) if target else (None, None)
    return EstimateFacts(
        name=key,
        label="Temper water needed" if key == "moisture" else entry.label,
        unit=shown_unit(unit),
        decimals=decimals,
        value=value,
        sd=sd,
        low=low,
        high=high,
        text=band_text(lab, value, low, high, decimals),
        target=aim,
        tolerance=ends,
        words=target_words(lab, key, known.value) if target else "",
    )


def target_of(lab: Lab, key: str) -> tuple[float | None, tuple[float, float] | None]:
    """Target and the ends of its tolerance in the display unit."""
    entry = lab.sand.targets.get(key)
    if entry is None:
        return None, None
    low, aim, high = (
        to_display(lab.specs, key, entry.target + step * entry.tolerance) for step in (-1.0, 0.0, 1.0)
    )
    return aim, (low, high)


def target_words(lab: Lab, key: str, value: float) -> str:
    """How a value lies to its target, in words; empty where there is none."""
    entry = lab.sand.targets.get(key)
    if entry is None:
        return ""
    off, unit = value - entry.target, display_unit(lab.specs, key)
    decimals = display_decimals(lab.specs.properties[key], unit)
    far = format_number(width_to_display(lab.specs, key, abs(off)), decimals, mark=lab.mark)
    side = "above" if off > 0 else "below"
    if abs(off) > entry.tolerance:
        return f"{far} {side} target, outside tolerance"
    return "on target" if abs(off) <= 0.25 * entry.tolerance else f"{far} {side} target"


def running_share(recommender: Recommender, now: datetime) -> float:
    """Share of the last week in which batches were made: hours of running in an hour of the clock."""
    at, now_us = recommender.log.at, microseconds(now)
    start = max(at[0], now_us - 7 * 24 * HOUR_US)
    made = sum(1 for one in at if one >= start)
    hours = max(1.0, (now_us - start) / HOUR_US)
    return min(1.0, max(0.05, made / recommender.plant.batches_per_h / hours))


def course(
    lab: Lab,
    recommender: Recommender,
    key: str,
    ahead: Forecast,
    *,
    now: datetime,
    share: float,
    past: Sequence[tuple[int, Floats, Floats]] = (),
) -> CourseFacts:
    """A property over the last days and the days ahead, with its tests."""
    mean, sd = ahead.course(COURSE_OF.get(key, key))
    at = [now + timedelta(hours=hour / share) for hour in ahead.hours.tolist()]
    means, sds = mean.tolist(), sd.tolist()
    if key in COMPONENTS:
        place, before = COMPONENTS.index(key), [one for one in past if moment_of(one[0]) < now]
        at = [moment_of(one[0]) for one in before] + at
        means = [float(one[1][place]) for one in before] + means
        sds = [float(one[2][place]) for one in before] + sds
    aim, ends = (None, None) if key == "moisture" else target_of(lab, key)
    shown = [to_display(lab.specs, key, one) for one in means]
    half = [BAND * width_to_display(lab.specs, key, one) for one in sds]
    last = estimate(lab, key, Estimated(means[-1], sds[-1]))
    return CourseFacts(
        name=key,
        label=last.label,
        unit=last.unit,
        decimals=last.decimals,
        now=now,
        at=tuple(at),
        mean=tuple(shown),
        low=tuple(one - wide for one, wide in zip(shown, half, strict=True)),
        high=tuple(one + wide for one, wide in zip(shown, half, strict=True)),
        tests=_seen(lab, recommender, key) if past else (),
        target=aim,
        tolerance=ends,
        words=f"{last.text} {last.unit}{': ' + last.words if last.words else ''}",
    )


def _seen(lab: Lab, recommender: Recommender, key: str) -> tuple[SeenFacts, ...]:
    return tuple(
        SeenFacts(at=moment_of(taken), value=to_display(lab.specs, key, value))
        for taken, name, value, _, _ in recommender.log.results
        if name == key
    )


def band_picture(facts: CourseFacts, *, mark: str = ".", since: datetime | None = None) -> BandPicture:
    """A course as shapes, from a time on."""
    shown = [place for place, at in enumerate(facts.at) if since is None or at >= since]
    tests = [one for one in facts.tests if since is None or one.at >= since]

    def picked(values: tuple[float, ...]) -> Floats:
        return np.array([values[place] for place in shown], dtype=np.float64)

    return BandPicture(
        times=np.array([microseconds(facts.at[place]) for place in shown], dtype=np.int64),
        low=picked(facts.low),
        mean=picked(facts.mean),
        high=picked(facts.high),
        now=microseconds(facts.now),
        title=facts.label,
        unit=facts.unit,
        decimals=facts.decimals,
        decimal_mark=mark,
        test_times=np.array([microseconds(one.at) for one in tests], dtype=np.int64),
        tests=np.array([one.value for one in tests], dtype=np.float64),
        target=facts.target,
        tolerance=facts.tolerance,
    )
