"""Dates and times as people and spreadsheets write them, and the plant's clock that they were read from."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache, lru_cache
from zoneinfo import ZoneInfo

from sandlab.errors import impossible

_WORDS = {
    "year": r"(?P<year>\d{4}|\d{2})",
    "month": r"(?P<month>\d{1,2}|[A-Za-z]{3,9})",
    "day": r"(?P<day>\d{1,2})",
    "hour": r"(?P<hour>\d{1,2})",
    "minute": r"(?P<minute>\d{2})",
    "second": r"(?P<second>\d{2})",
}
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
# How workbooks' real dates arrive, and dates as ISO 8601 writes them: never ambiguous.
_ISO = re.compile(r"\d{4}-\d{2}-\d{2}([ T]\d{2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d{2}:?\d{2})?)?")
# Twelve hours twice: never ambiguous, whatever the patterns are.
_HALF_DAY = re.compile(r"(\d{1,2})(?:[:.](\d{2}))?(?::(\d{2}))?\s*([ap])\.?m\.?", re.IGNORECASE)
_PLAIN_NUMBER = re.compile(r"\d+([.,]\d+)?")
# Day numbers of spreadsheets count from here; the range is 1995 to 2099.
_SERIAL_START = datetime.fromisoformat("1899-12-30")
_SERIAL_DAYS = (34700, 73050)
DAY_S = 86400
# Earlier years are slips of the keyboard; the last one leaves room for time zones.
YEARS = (1950, 9998)


@dataclass(frozen=True, slots=True)
class Stamp:
    """A date, a time of day, or both, as written; `aware` when the text states its own offset from UTC."""

    day: date | None = None
    clock: time | None = None
    aware: datetime | None = None


@cache
def compiled(pattern: str) -> re.Pattern[str]:
    """The expression of a pattern such as "day.month.year hour:minute"; raises ValueError."""
    parts = []
    for piece in re.findall(rf"{'|'.join(_WORDS)}|[A-Za-z]+|[^A-Za-z]+", pattern):
        if piece[0].isalpha() and piece not in _WORDS:
            raise ValueError(f"'{piece}' in \"{pattern}\" is none of {', '.join(_WORDS)}")
        parts.append(_WORDS.get(piece, re.escape(piece)))
    try:
        return re.compile("".join(parts))
    except re.error as error:
        raise ValueError(f'"{pattern}" names a word twice') from error


@lru_cache(maxsize=10_000)
def read_date(text: str, patterns: tuple[str, ...]) -> Stamp:
    """The date (and time, if it is there) that `text` means; raises InputError when none or more than one."""
    found, matched = ({_iso(text)}, True) if _ISO.fullmatch(text) else _by_patterns(text, patterns)
    found |= _serial_date(text)
    if len(found) == 1:
        return _plausible(found.pop(), text)
    if found:
        days = " or ".join(sorted(f"{stamp.day.day} {stamp.day:%b %Y}" for stamp in found if stamp.day))
        raise impossible("date", f"'{text}' is ambiguous ({days})", "write it as year-month-day")
    if matched:
        raise impossible("date", f"'{text}' is no day of the calendar", "correct the date")
    raise impossible(
        "date", f"'{text}' is not a date in a known form", "correct it, or add its form to dates"
    )


@lru_cache(maxsize=10_000)
def read_time(text: str, patterns: tuple[str, ...]) -> Stamp:
    """The time of day that `text` means; raises InputError when none or more than one."""
    if _ISO.fullmatch(text):
        stamp = _iso(text)
        # A cell with a time alone arrives with the spreadsheet's day zero.
        return Stamp(clock=stamp.clock) if stamp.day and stamp.day.year <= 1900 else stamp
    half = _HALF_DAY.fullmatch(text)
    found, matched = ({_half_day(text, half)}, True) if half else _by_patterns(text, patterns)
    if _PLAIN_NUMBER.fullmatch(text) and (share := float(text.replace(",", "."))) < 1.0:
        found.add(Stamp(clock=(_SERIAL_START + timedelta(seconds=round(share * DAY_S))).time()))
    if len(found) == 1:
        return found.pop()
    if found:
        clocks = " or ".join(sorted(f"{stamp.clock:%H:%M}" for stamp in found if stamp.clock is not None))
        raise impossible("time", f"'{text}' is ambiguous ({clocks})", "write it as hour:minute")
    if matched:
        raise impossible("time", f"'{text}' is no time of day", "correct the time (00:00 to 23:59)")
    raise impossible(
        "time", f"'{text}' is not a time in a known form", "correct it, or add its form to times"
    )


def _half_day(text: str, parts: re.Match[str]) -> Stamp:
    """12 am is midnight, 12 pm is noon."""
    hour, minute, second = (int(part or 0) for part in parts.groups()[:3])
    if not 1 <= hour <= 12 or minute > 59 or second > 59:
        raise impossible("time", f"'{text}' is no time of day", "correct the time")
    return Stamp(clock=time(hour % 12 + (12 if parts[4].lower() == "p" else 0), minute, second))


def _plausible(stamp: Stamp, text: str) -> Stamp:
    if stamp.day is not None and not YEARS[0] <= stamp.day.year <= YEARS[1]:
        raise impossible("date", f"'{text}' is not of this age", "correct the year")
    return stamp


def _by_patterns(text: str, patterns: Sequence[str]) -> tuple[set[Stamp], bool]:
    """What the patterns make of `text`, and whether any fits its form at all."""
    matches = [match for pattern in patterns if (match := compiled(pattern).fullmatch(text))]
    stamps = (_stamp(match.groupdict()) for match in matches)
    return {stamp for stamp in stamps if stamp is not None}, bool(matches)


def _iso(text: str) -> Stamp:
    try:
        moment = _whole_seconds(datetime.fromisoformat(text))
    except (ValueError, OverflowError) as error:
        raise impossible("date", f"'{text}' is no day of the calendar", "correct the date") from error
    clock = moment.time() if len(text) > len("2026-01-01") else None
    return Stamp(moment.date(), clock, moment if moment.tzinfo else None)


def _whole_seconds(moment: datetime) -> datetime:
    # Spreadsheets keep times as binary fractions of a day: 07:00 may arrive as 06:59:59.999.
    return (moment + timedelta(milliseconds=500)).replace(microsecond=0)


def _serial_date(text: str) -> set[Stamp]:
    days = float(text.replace(",", ".")) if _PLAIN_NUMBER.fullmatch(text) else 0.0
    if not _SERIAL_DAYS[0] <= days <= _SERIAL_DAYS[1]:
        return set()
    moment = _SERIAL_START + timedelta(seconds=round(days * DAY_S))
    return {Stamp(moment.date(), None if days.is_integer() else moment.time())}


def _stamp(parts: dict[str, str | None]) -> Stamp | None:
    """Date and time of the parts found; None when the calendar or the clock has no such."""
    try:
        day = clock = None
        if parts.get("year") is not None:
            day = date(
                _year(parts["year"] or ""), _month(parts.get("month") or ""), int(parts.get("day") or 0)
            )
        if parts.get("hour") is not None:
            clock = time(
                int(parts["hour"] or 0), int(parts.get("minute") or 0), int(parts.get("second") or 0)
            )
    except ValueError:
        return None
    return Stamp(day, clock)


def _year(text: str) -> int:
    return int(text) + 2000 if len(text) == 2 else int(text)


def _month(text: str) -> int:
    return int(text) if text.isdigit() else _MONTHS.index(text[:3].lower()) + 1


@dataclass(frozen=True, slots=True)
class Moment:
    """An instant in UTC; `doubt` is a sentence when a clock change makes it uncertain."""

    at: datetime
    doubt: str = ""


def in_zone(wall: datetime, zone: ZoneInfo) -> tuple[Moment, ...]:
    """The instants a wall-clock time can mean, the likeliest first.

    One as a rule; two, both doubtful, in the hour that comes twice when the clocks go back. In the hour that
    is skipped when they go forward it is one doubtful instant, read with the clock not yet changed.
    """
    early, late = (wall.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if early.utcoffset() == late.utcoffset():
        return (Moment(early.astimezone(UTC)),)
    shown = early.astimezone(UTC).astimezone(zone)
    if shown.replace(tzinfo=None) != wall:
        doubt = f"the clocks skipped {wall:%H:%M} that night; taken as {shown:%H:%M %Z}"
        return (Moment(early.astimezone(UTC), doubt),)
    twice = f"the clocks showed {wall:%H:%M} twice that night"
    return (
        Moment(early.astimezone(UTC), f"{twice}; the first ({early:%Z}) was taken"),
        Moment(late.astimezone(UTC), f"{twice}; the second ({late:%Z}) was taken"),
    )
