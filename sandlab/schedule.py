"""What is due, overdue or missed, from the schedule in the specs, the last results and a given time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Literal

from sandlab.specs import System, TestSet

DueState = Literal["due", "overdue", "done"]


@dataclass(frozen=True, slots=True)
class Due:
    """One test set now: its state, the time it belongs to, what remains of it, how many times were missed."""

    state: DueState
    due_at: datetime
    minutes_late: int
    remaining: tuple[str, ...]
    missed: int


def interval_min(test_set: TestSet) -> float:
    """The usual time between two tests of a set, in minutes."""
    if test_set.every_min is not None:
        return float(test_set.every_min)
    per_day = len(test_set.at)
    return 7 * 1440.0 / per_day if test_set.weekday is not None else 1440.0 / per_day


def due_times(test_set: TestSet, *, zone: tzinfo, start: datetime, end: datetime) -> tuple[datetime, ...]:
    """The times (UTC, rising) at which a set falls due in [start, end]; the plant's wall clock counts."""
    found = {
        moment.astimezone(UTC)
        for moment in _wall_times(test_set, zone, start.astimezone(zone), end.astimezone(zone))
    }
    return tuple(sorted(moment for moment in found if start <= moment <= end))


def _wall_times(test_set: TestSet, zone: tzinfo, start: datetime, end: datetime) -> Iterator[datetime]:
    day = start.date()
    while day <= end.date():
        if test_set.weekday is None or day.weekday() == test_set.weekday:
            minutes = range(0, 1440, test_set.every_min) if test_set.every_min else test_set.at
            for minute in minutes:
                yield datetime(day.year, day.month, day.day, minute // 60, minute % 60, tzinfo=zone)
        day += timedelta(days=1)


def due(test_set: TestSet, *, zone: tzinfo, now: datetime, last_taken: Mapping[str, datetime | None]) -> Due:
    """Whether a set is due at `now`, given when each of its properties was last sampled at its point.

    A sample counts for a time when it was taken no more than the set's grace (at most half the interval)
    before it. Due until the grace is over, overdue after or when the time before was missed altogether; a set
    never tested is due, not overdue. When done, `due_at` is the next time.
    """
    interval = timedelta(minutes=interval_min(test_set))
    early = min(timedelta(minutes=test_set.grace_min), interval / 2)
    reach = max(interval, timedelta(days=1)) + timedelta(days=1)
    around = due_times(test_set, zone=zone, start=now - reach, end=now + reach)
    past = [moment for moment in around if moment <= now]
    ahead = [moment for moment in around if moment > now]
    current, following = past[-1], ahead[0]
    remaining = _remaining(test_set, current - early, last_taken)
    if remaining:
        late = now - current
        never = all(last_taken.get(name) is None for name in test_set.properties)
        missed = _missed(past, last_taken, test_set)
        overdue = (missed > 0 or late > timedelta(minutes=test_set.grace_min)) and not never
        state: DueState = "overdue" if overdue else "due"
        return Due(state, current, int(late.total_seconds() // 60), remaining, missed)
    if following - now <= early and (left := _remaining(test_set, following - early, last_taken)):
        return Due("due", following, -int((following - now).total_seconds() // 60), left, 0)
    return Due("done", following, 0, (), 0)


def _remaining(
    test_set: TestSet, since: datetime, last_taken: Mapping[str, datetime | None]
) -> tuple[str, ...]:
    def open_(name: str) -> bool:
        taken = last_taken.get(name)
        return taken is None or taken < since

    return tuple(name for name in test_set.properties if open_(name))


def _missed(past: list[datetime], last_taken: Mapping[str, datetime | None], test_set: TestSet) -> int:
    """Due times passed since the last sample of the set, before the present one."""
    taken = [moment for name in test_set.properties if (moment := last_taken.get(name)) is not None]
    if not taken:
        return 0
    return max(0, sum(moment > max(taken) for moment in past) - 1)


def home_point(system: System, property: str) -> str:
    """The sampling point at which a property is scheduled; the first set's for derived properties."""
    sets = list(system.schedule.values())
    for test_set in sets:
        if property in test_set.properties:
            return test_set.point
    return sets[0].point if sets else next(iter(system.points), "")


def property_interval_min(system: System, property: str) -> float | None:
    """Minutes between tests of a property in its most frequent set; None when it has no schedule."""
    found = [interval_min(s) for s in system.schedule.values() if property in s.properties]
    return min(found, default=None)
