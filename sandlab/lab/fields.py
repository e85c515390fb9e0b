"""The fields of the entry form: what may be typed, what is expected, what was measured last."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts import FieldFacts, MethodFacts, ReadingFacts, TimedFacts
from sandlab.lab.opening import Lab
from sandlab.lab.showing import (
    clock_text,
    display_decimals,
    display_unit,
    pair_to_display,
    shown_unit,
    text_of,
    to_display,
)
from sandlab.specs import Method

Last = tuple[float, datetime, str]


def field(lab: Lab, key: str, *, point: str, now: datetime) -> FieldFacts:
    """One field of the form, with the last value at that point."""
    specs = lab.specs
    entry = specs.properties[key]
    unit = display_unit(specs, key)
    target = lab.sand.targets.get(key)
    last = last_result(lab, key, point)
    value, at, censored = last if last else (None, None, "")
    ends = (target.target - target.tolerance, target.target + target.tolerance) if target else None
    return FieldFacts(
        property=key,
        label=entry.label,
        short=entry.short,
        unit=shown_unit(unit),
        decimals=display_decimals(entry, unit),
        impossible=pair_to_display(specs, key, entry.impossible),
        doubtful=pair_to_display(specs, key, entry.doubtful),
        target=to_display(specs, key, target.target) if target else None,
        tolerance=pair_to_display(specs, key, ends) if ends else None,
        reaction=pair_to_display(specs, key, target.reaction) if target else None,
        last_value=None if value is None else to_display(specs, key, value),
        last_text="" if at is None else _last_text(lab, key, value, at, censored, now),
        last_at=at,
        methods=tuple(
            _method_facts(name, method)
            for name, method in specs.methods.items()
            if method.property == key and method.readings
        ),
    )


def last_result(lab: Lab, key: str, point: str) -> Last | None:
    """Value, time and censoring of the newest result of a property at a point."""
    return lab.store.newest(lab.system, key, point)


def _last_text(lab: Lab, key: str, value: float | None, at: datetime, censored: str, now: datetime) -> str:
    return f"{text_of(lab.specs, key, value, censored=censored)} at {clock_text(at, lab.zone, now)}"


def _method_facts(name: str, method: Method) -> MethodFacts:
    return MethodFacts(
        method=name,
        label=method.label,
        caution=method.caution,
        repeats=method.repeats.count if method.repeats else 1,
        readings=tuple(
            ReadingFacts(
                name=reading,
                label=entry.label,
                unit=shown_unit(entry.unit),
                decimals=entry.decimals,
                low=entry.low,
                high=entry.high,
            )
            for reading, entry in method.readings.items()
        ),
        timed=tuple(
            TimedFacts(name=key, label=one.label, seconds=one.seconds, reading=one.reading)
            for key, one in method.timed.items()
        ),
    )
