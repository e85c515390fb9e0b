"""When sets fall due on the plant's wall clock, through both clock changes of a year."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from sandlab.schedule import due, due_times, home_point, interval_min, property_interval_min
from sandlab.specs import TestSet, load

COPENHAGEN = ZoneInfo("Europe/Copenhagen")


def a_set(**changes: object) -> TestSet:
    """An hourly set of two properties, changed as told."""
    table: dict[str, object] = {
        "label": "Set",
        "point": "muller_discharge",
        "properties": ("moisture", "compactability"),
        "grace_min": 15,
    }
    return TestSet.model_validate(table | (changes or {"every_min": 60}))


def local(*parts: int) -> datetime:
    """A wall-clock time in Copenhagen as UTC."""
    return datetime(*parts, tzinfo=COPENHAGEN).astimezone(UTC)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("day", "hours"),
    [((2026, 3, 29), 23), ((2026, 10, 25), 25), ((2026, 6, 1), 24)],
)
def test_an_hourly_set_falls_due_every_real_hour_but_the_repeated_one(
    day: tuple[int, int, int], hours: int
) -> None:
    """Summer time starts 29 March and ends 25 October 2026; the hour that comes twice is asked for once."""
    start = local(*day, 0, 0)
    times = due_times(a_set(), zone=COPENHAGEN, start=start, end=start + timedelta(hours=hours - 1))
    assert len(times) == min(hours, 24)
    assert len(set(times)) == len(times)


def test_local_times_hold_through_the_clock_change() -> None:
    """07:00 stays 07:00 on the wall."""
    shift = a_set(at=["07:00", "15:00", "23:00"])
    times = due_times(shift, zone=COPENHAGEN, start=local(2026, 3, 28, 6, 0), end=local(2026, 3, 30, 8, 0))
    walls = [moment.astimezone(COPENHAGEN).strftime("%d %H:%M") for moment in times]
    assert walls == ["28 07:00", "28 15:00", "28 23:00", "29 07:00", "29 15:00", "29 23:00", "30 07:00"]


def test_a_weekly_set_waits_for_its_day() -> None:
    """Tuesday 09:00 only."""
    weekly = a_set(at=["09:00"], weekday=1)
    times = due_times(
        weekly, zone=UTC, start=datetime(2026, 3, 1, tzinfo=UTC), end=datetime(2026, 3, 31, tzinfo=UTC)
    )
    assert [moment.day for moment in times] == [3, 10, 17, 24, 31][:4]
    assert interval_min(weekly) == 7 * 1440


@pytest.mark.parametrize(
    ("minutes", "state", "late", "remaining"),
    [
        (50, "due", -10, 2),
        (60, "due", 0, 2),
        (75, "due", 15, 2),
        (76, "overdue", 16, 2),
        (121, "overdue", 1, 2),
    ],
)
def test_due_then_overdue(minutes: int, state: str, late: int, remaining: int) -> None:
    """Sampled at 08:00: due from 08:45, overdue after the grace, and at once when an hour was missed."""
    eight = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
    taken = {"moisture": eight, "compactability": eight}
    found = due(a_set(), zone=UTC, now=eight + timedelta(minutes=minutes), last_taken=taken)
    assert (found.state, found.minutes_late, len(found.remaining)) == (state, late, remaining)


def test_an_early_sample_counts_for_the_hour_ahead() -> None:
    """Taken at 08:50, it is the nine o'clock sample."""
    taken = datetime(2026, 3, 2, 8, 50, tzinfo=UTC)
    last = {"moisture": taken, "compactability": taken}
    found = due(a_set(), zone=UTC, now=datetime(2026, 3, 2, 9, 20, tzinfo=UTC), last_taken=last)
    assert found.state == "done"
    assert found.due_at == datetime(2026, 3, 2, 10, 0, tzinfo=UTC)


def test_a_set_never_tested_is_due_not_overdue() -> None:
    """An empty plant starts without reproach."""
    found = due(a_set(), zone=UTC, now=datetime(2026, 3, 2, 9, 50, tzinfo=UTC), last_taken={})
    assert (found.state, found.missed) == ("due", 0)


def test_points_and_intervals_come_from_the_schedule() -> None:
    """A property's home is where its set is sampled; derived ones belong to the first set."""
    system = load().systems["main"]
    assert home_point(system, "return_moisture") == "return_belt"
    assert home_point(system, "working_bond") == "muller_discharge"
    assert property_interval_min(system, "moisture") == 60
    assert property_interval_min(system, "working_bond") is None
