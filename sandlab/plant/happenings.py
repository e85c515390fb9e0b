"""What else is written down: what was poured, what was delivered, what people noted."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from sandlab.plant.calendar import BATCHES_PER_HOUR, HOUR, SHIFT_STARTS, Calendar
from sandlab.plant.faults import Fault, Kind
from sandlab.plant.parameters import CORE_JOB, DRY, JOBS
from sandlab.plant.running import Course
from sandlab.records import Event, Production, Receipt

Identity = Callable[[], str]
STORE, FOREMAN, ENGINEER = "P. Ruddock", "H. Lindqvist", "A. Tremayne"
# Weekday, local hour, material, lot prefix, kg of one delivery.
DELIVERIES = (
    (0, 9, "new_sand", "NS", 24_000.0),
    (1, 8, "bentonite", "BT", 24_500.0),
    (2, 10, "carbon", "CD", 21_500.0),
    (3, 9, "new_sand", "NS", 24_000.0),
)
OTHER_SUPPLIER = "VK"
STOP_REASONS = (
    "pattern change",
    "moulding machine",
    "ladle late",
    "shakeout screen",
    "belt jam",
    "core shortage",
)
FOUND: dict[Kind, tuple[str, str, str]] = {
    "bentonite_feeder": (
        "",
        "maintenance",
        "Bentonite screw replaced and weighed out: it had fed too little.",
    ),
    "bentonite_assay": (
        "Bentonite from the second supplier from today.",
        "supplier",
        "Back to the first supplier's bentonite.",
    ),
    "hot_spell": ("Hot day: hall above 28 C, doors open.", "note", "Hall has cooled down."),
    "core_job": (
        "First run of hydrant pedestals, heavy cores.",
        "note",
        "Hydrant pedestals finished.",
    ),
    "water_meter": ("", "maintenance", "Water valve at the muller repaired."),
    "carbon_feeder": ("", "maintenance", "Coal-dust feeder set right: the scale was one notch low."),
    "lab_offset": ("", "note", "Laboratory balance tared; last shift's specimen weights read too high."),
}


def production(course: Course, identity: Identity, system: str, start: datetime) -> tuple[Production, ...]:
    """What was poured, one record per job and shift, written at its end."""
    calendar, drivers = course.calendar, course.drivers
    shift = _shift_numbers(calendar)[drivers.slots // BATCHES_PER_HOUR]
    changes = np.flatnonzero(np.diff(drivers.job) | np.diff(shift)) + 1
    bounds = [0, *changes.tolist(), drivers.slots.size]
    sand_t = float(np.nanmean(course.prepared[DRY].sum(axis=0))) / 1000.0
    jobs = (*JOBS, CORE_JOB)
    records = []
    for first, after in pairwise(bounds):
        at, until = calendar.moment(int(drivers.slots[first])), calendar.moment(int(drivers.slots[after - 1]))
        if at < start or after - first < 5:
            continue
        metal = (sand_t / drivers.sand_to_metal[first:after]).sum()
        cores = (sand_t / drivers.sand_to_metal[first:after] * drivers.core_share[first:after]).sum()
        records.append(
            Production(
                id=identity(),
                system=system,
                at=at,
                by=FOREMAN,
                recorded_at=until,
                until=until,
                job=jobs[int(drivers.job[first])].name,
                metal_t=round(float(metal), 1),
                sand_to_metal=round(sand_t * (after - first) / float(metal), 2),
                core_sand_t=round(float(cores), 2),
            )
        )
    return tuple(records)


def receipts(
    course: Course, faults: Sequence[Fault], identity: Identity, system: str, start: datetime
) -> tuple[Receipt, ...]:
    """The weekly deliveries, and the first one of another supplier."""
    calendar = course.calendar
    entries = list(_weekly(calendar, faults))
    for fault in faults:
        if fault.kind == "bentonite_assay":
            at = calendar.before_end(fault.start_h) - timedelta(minutes=50)
            entries.append((at, "bentonite", OTHER_SUPPLIER, 24_000.0, 1.0 + fault.amount))
    records = []
    for at, material, prefix, kg, assay in sorted(entries):
        if not start <= at <= calendar.until:
            continue
        records.append(
            Receipt(
                id=identity(),
                system=system,
                at=at,
                by=STORE,
                recorded_at=at,
                material=material,
                lot=f"{prefix}-{at.isocalendar().week:02d}{at.isocalendar().weekday}",
                kg=kg,
                assay=_certificate(course, material, assay),
            )
        )
    return tuple(records)


def _certificate(course: Course, material: str, share: float) -> dict[str, float]:
    """What a certificate says, % of dry; new sand comes without one."""
    if material == "bentonite":
        return {"active_clay": round(100.0 * share, 1)}
    if material == "carbon":
        own = course.drivers.parameters
        volatiles, fixed = round(100.0 * own.coal_volatiles, 1), round(100.0 * own.coal_fixed, 1)
        return {
            "volatiles": volatiles,
            "fixed_carbon": fixed,
            "inert_fines": round(100.0 - volatiles - fixed, 1),
        }
    return {}


def _weekly(calendar: Calendar, faults: Sequence[Fault]) -> Iterator[tuple[datetime, str, str, float, float]]:
    total = len(calendar.hours)
    for number, local in enumerate(calendar.locals):
        for weekday, hour, material, prefix, kg in DELIVERIES:
            if (local.weekday(), local.hour) == (weekday, hour):
                weaker = sum(
                    f.amount for f in faults if f.kind == "bentonite_assay" and f.share_at(total - number)
                )
                other = material == "bentonite" and weaker != 0.0
                at = calendar.hours[number] + timedelta(minutes=20)
                yield at, material, OTHER_SUPPLIER if other else prefix, kg, 1.0 + (weaker if other else 0.0)


def events(
    course: Course, faults: Sequence[Fault], identity: Identity, system: str, start: datetime
) -> tuple[Event, ...]:
    """Stops, Saturday's cleaning, and what people saw of the planted faults, not their cause beforehand."""
    calendar = course.calendar
    notes = [*_stops(course), *_cleaning(calendar)]
    for fault in faults:
        begun, kind, found = FOUND[fault.kind]
        if begun:
            notes.append((calendar.before_end(fault.start_h), kind, begun, ENGINEER))
        ended = fault.start_h - fault.duration_h
        if ended > 0.0:
            notes.append((calendar.before_end(ended), kind, found, ENGINEER))
    return tuple(
        Event(id=identity(), system=system, at=at, by=by, recorded_at=at, kind=kind, text=text)
        for at, kind, text, by in sorted(notes)
        if start <= at <= calendar.until
    )


def _stops(course: Course) -> Iterator[tuple[datetime, str, str, str]]:
    slots = course.drivers.slots
    for place in np.flatnonzero(np.diff(slots) > 2).tolist():
        missing = int(slots[place + 1] - slots[place]) - 1
        reason = STOP_REASONS[int(slots[place]) % len(STOP_REASONS)]
        text = f"Line stopped {missing * 60 // BATCHES_PER_HOUR} min: {reason}."
        yield course.calendar.moment(int(slots[place + 1])), "stop", text, FOREMAN


def _cleaning(calendar: Calendar) -> Iterator[tuple[datetime, str, str, str]]:
    for number, local in enumerate(calendar.locals):
        if local.weekday() == 5 and local.hour == 5:
            at = calendar.hours[number] + HOUR
            yield at, "maintenance", "Muller cleaned, ploughs and wheels checked.", ENGINEER


def _shift_numbers(calendar: Calendar) -> np.ndarray:
    """A number per running hour that changes with the shift."""
    starts = [local.hour in SHIFT_STARTS or number == 0 for number, local in enumerate(calendar.locals)]
    return np.cumsum(starts)
