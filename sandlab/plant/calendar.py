"""When the foundry runs: Monday 06:00 to Saturday 06:00 local time, in slots of one muller batch."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from sandlab.errors import impossible

BATCHES_PER_HOUR = 20
SLOT = timedelta(hours=1) / BATCHES_PER_HOUR
SHIFT_STARTS = (6, 14, 22)
HOUR = timedelta(hours=1)


def full_hour(moment: datetime) -> datetime:
    """The last full hour not after `moment`, in UTC."""
    if moment.tzinfo is None:
        raise impossible("until", f"{moment} has no time zone", "give an aware time")
    return moment.astimezone(UTC).replace(minute=0, second=0, microsecond=0)


def is_running(local: datetime) -> bool:
    """Whether the line runs in the hour that starts at this local time."""
    weekday, hour = local.weekday(), local.hour
    return (weekday < 5 and not (weekday == 0 and hour < 6)) or (weekday == 5 and hour < 6)


@dataclass(frozen=True)
class Calendar:
    """Running hours between two UTC times; a slot is one batch time, counted over running hours only."""

    first: datetime
    until: datetime
    zone: ZoneInfo

    @cached_property
    def hours(self) -> tuple[datetime, ...]:
        """Starts of the running hours, UTC."""
        count = (self.until - self.first) // HOUR
        moments = (self.first + number * HOUR for number in range(count))
        return tuple(moment for moment in moments if is_running(moment.astimezone(self.zone)))

    @cached_property
    def locals(self) -> tuple[datetime, ...]:
        """Starts of the running hours in local time."""
        return tuple(moment.astimezone(self.zone) for moment in self.hours)

    @cached_property
    def clock_hours(self) -> npt.NDArray[np.int64]:
        """Hours since `first` at which the running hours start."""
        return np.array([(moment - self.first) // HOUR for moment in self.hours], dtype=np.int64)

    @property
    def slots(self) -> int:
        """Batch times in all running hours."""
        return len(self.hours) * BATCHES_PER_HOUR

    def moment(self, slot: int) -> datetime:
        """UTC time of a slot."""
        return self.hours[slot // BATCHES_PER_HOUR] + (slot % BATCHES_PER_HOUR) * SLOT

    def before_end(self, running_hours: float) -> datetime:
        """UTC time that lies so many running hours before the end."""
        slot = self.slots - round(running_hours * BATCHES_PER_HOUR)
        if slot >= self.slots:
            return self.until
        return self.moment(max(0, slot))


def shift_of(local: datetime) -> int:
    """0 early, 1 late, 2 night."""
    return 0 if 6 <= local.hour < 14 else 1 if 14 <= local.hour < 22 else 2


def team_of(local: datetime) -> int:
    """Which of the three teams is on: they move on by one shift each week."""
    monday = (local - timedelta(hours=6)).date()
    return (shift_of(local) + monday.isocalendar().week) % 3
