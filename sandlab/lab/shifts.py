"""Shifts and months on the plant's clock."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from sandlab.errors import impossible
from sandlab.lab.opening import Lab
from sandlab.lab.periods import MICROSECOND, Period
from sandlab.lab.wall_clock import require_year

_MONTH = re.compile(r"(\d{4})-(\d{2})")


@dataclass(frozen=True, slots=True)
class Stretch:
    """A shift or a month: its name, its start, and when the next one begins."""

    name: str
    start: datetime
    end: datetime

    @property
    def period(self) -> Period:
        """From its start to the last moment before the next."""
        return Period(self.start, self.end - MICROSECOND)


def shift_at(lab: Lab, moment: datetime) -> Stretch:
    """The shift that a moment lies in."""
    local = moment.astimezone(lab.zone)
    starts = [
        _wall(lab, local.date() + timedelta(days=days), minutes)
        for days in (-1, 0, 1, 2)
        for minutes in lab.specs.plant.shifts
    ]
    place = max(number for number, start in enumerate(starts) if start <= moment)
    start, end = starts[place], starts[place + 1]
    clock = [one.astimezone(lab.zone) for one in (start, end)]
    return Stretch(f"{clock[0]:%a %d %b %Y %H:%M} to {clock[1]:%H:%M}", start, end)


def named_shift(lab: Lab, written: str) -> Stretch:
    """`now` is the running shift, `last` the one before it; else the one that a local time lies in."""
    running = shift_at(lab, lab.now())
    if written == "now":
        return running
    if written == "last":
        return shift_at(lab, running.start - MICROSECOND)
    try:
        moment = datetime.fromisoformat(written)
    except ValueError:
        do = "write now, last, or a time in it such as 2026-03-02T06:00"
        raise impossible("shift", f"'{written}' is not a shift", do) from None
    require_year(moment.year, written, where="shift")
    found = shift_at(lab, moment if moment.tzinfo else moment.replace(tzinfo=lab.zone))
    _require_begun(lab, found)
    return found


def named_month(lab: Lab, written: str) -> Stretch:
    """A month written like 2026-03."""
    matched = _MONTH.fullmatch(written)
    if matched is None or not 1 <= int(matched[2]) <= 12:
        raise impossible("month", f"'{written}' is not a month", "write it like 2026-03")
    year, month = int(matched[1]), int(matched[2])
    require_year(year, written, where="month")
    first = date(year, month, 1)
    following = date(year + month // 12, month % 12 + 1, 1)
    found = Stretch(f"{first:%B %Y}", _wall(lab, first, 0), _wall(lab, following, 0))
    _require_begun(lab, found)
    return found


def _require_begun(lab: Lab, found: Stretch) -> None:
    if found.start > lab.now():
        raise impossible("period", f"{found.name} has not begun yet", "choose one that has")


def _wall(lab: Lab, day: date, minutes: int) -> datetime:
    """A time of day on the plant's clock, UTC."""
    local = datetime(day.year, day.month, day.day, minutes // 60, minutes % 60, tzinfo=lab.zone)
    return local.astimezone(UTC)
