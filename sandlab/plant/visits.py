"""When the laboratory takes sand, and what chance does to a test: one visit per running hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from sandlab.plant.calendar import BATCHES_PER_HOUR, Calendar, team_of
from sandlab.plant.drivers import Floats, stream
from sandlab.plant.faults import Fault

HOURLY = (
    "compactability",
    "moisture",
    "green_compression_strength",
    "permeability",
    "specimen_weight",
    "sand_temperature",
)
BELT = ("return_moisture", "return_temperature")
SHIFT = ("active_clay", "green_shear_strength", "dry_compression_strength", "wet_tensile_strength")
DAILY = ("active_clay", "volatiles", "loss_on_ignition", "friability", "shatter_index", "mould_hardness")
WEEKLY = ("active_clay", "volatiles", "loss_on_ignition", "afs_clay", "grain_fineness_number", "fines")

# Standard deviation of one reported result about the truth of the batch (repeatability and sampling), and how
# long after sampling it is known, min. Common practice; the titration is the noisiest, as published gage
# studies find (wmu2013).
NOISE = {
    "compactability": (1.2, 3),
    "moisture": (0.06, 12),
    "green_compression_strength": (5.0, 6),
    "permeability": (4.0, 8),
    "specimen_weight": (0.5, 4),
    "sand_temperature": (0.8, 2),
    "return_moisture": (0.07, 12),
    "return_temperature": (1.0, 2),
    "active_clay": (0.22, 55),
    "green_shear_strength": (1.5, 8),
    "dry_compression_strength": (25.0, 150),
    "wet_tensile_strength": (0.012, 20),
    "volatiles": (0.05, 120),
    "loss_on_ignition": (0.08, 190),
    "friability": (0.7, 15),
    "shatter_index": (1.8, 10),
    "mould_hardness": (1.5, 5),
    "afs_clay": (0.25, 300),
    "grain_fineness_number": (0.5, 420),
    "fines": (0.12, 420),
}
COLUMN = {name: place for place, name in enumerate(NOISE)}
# Each of the three technicians sees the end point of the titration a little differently.
TITRATION_OFFSET = (0.08, -0.07, 0.01)
MISSED, LATE = 0.025, 0.03


@dataclass(frozen=True, slots=True)
class Visits:
    """Per running hour: when sand was taken, from which batch (-1 for missed), and the luck of its tests."""

    minutes: npt.NDArray[np.int64]
    batch: npt.NDArray[np.int64]
    luck: Floats
    offset: dict[str, Floats]

    def moment(self, calendar: Calendar, hour: int) -> datetime:
        """When the sand of this hour was taken, UTC."""
        return calendar.hours[hour] + timedelta(minutes=int(self.minutes[hour]))

    def error(self, name: str, hour: int | slice) -> float | Floats:
        """What chance, technician and planted laboratory faults add to the true value."""
        scatter = NOISE[name][0] * self.luck[hour, COLUMN[name]]
        extra = self.offset.get(name)
        return scatter if extra is None else scatter + extra[hour]


def plan(seed: int, calendar: Calendar, slots: npt.NDArray[np.int64], faults: Sequence[Fault]) -> Visits:
    """The visits of one seed: mostly within ten minutes, some late, some missed, none while it rests."""
    hours = len(calendar.hours)
    timing = stream(seed, "timing")
    minutes = timing.integers(0, 10, hours)
    late, missed = timing.random(hours) < LATE, timing.random(hours) < MISSED
    minutes = np.where(late, timing.integers(18, 42, hours), minutes)
    bigger = np.array([bool(sets_due(local) - {"hourly", "belt"}) for local in calendar.locals])
    slot = np.arange(hours) * BATCHES_PER_HOUR + minutes * BATCHES_PER_HOUR // 60
    batch = np.searchsorted(slots, slot, side="right") - 1
    stale = slot - slots[np.maximum(batch, 0)] > 3
    # A larger set is never skipped: while the line stands it is taken from the last sand.
    batch = np.where((stale | missed) & ~bigger, -1, batch)
    luck = stream(seed, "tests").standard_normal((hours, len(NOISE)))
    return Visits(minutes, batch, luck, _offsets(calendar, faults))


def _offsets(calendar: Calendar, faults: Sequence[Fault]) -> dict[str, Floats]:
    teams = np.array([team_of(local) for local in calendar.locals])
    offset = {"active_clay": np.array(TITRATION_OFFSET)[teams]}
    to_end = len(calendar.hours) - np.arange(len(calendar.hours), dtype=np.float64)
    for fault in faults:
        if fault.kind == "lab_offset":
            shift = fault.amount * np.array([fault.share_at(float(hours)) for hours in to_end])
            offset[fault.property] = offset.get(fault.property, np.zeros(to_end.size)) + shift
    return offset


def sets_due(local: datetime) -> set[str]:
    """Names of the test sets due in the running hour that starts at this local time."""
    due = {"hourly"}
    if local.hour % 2 == 0:
        due.add("belt")
    if local.hour in (7, 15, 23):
        due.add("shift")
    if local.hour == 10:
        due.add("daily")
    if local.hour == 9 and local.weekday() == 1:
        due.add("weekly")
    return due


SETS = {"hourly": HOURLY, "belt": BELT, "shift": SHIFT, "daily": DAILY, "weekly": WEEKLY}
