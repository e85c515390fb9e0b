"""Dates, times and clock changes, against openpyxl's serial dates and the published days of clock changes."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest
from openpyxl.utils.datetime import from_excel

from sandlab.errors import InputError
from sandlab.exchange.moments import compiled, in_zone, read_date, read_time

DATES = ("day.month.year", "day/month/year", "month/day/year", "day month year", "day.month.year hour:minute")
TIMES = ("hour:minute", "hour.minute", "hour:minute:second")
BERLIN = ZoneInfo("Europe/Berlin")
wall = datetime.fromisoformat


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("04.03.2026", date(2026, 3, 4)),
        ("4.3.26", date(2026, 3, 4)),
        ("25/03/2026", date(2026, 3, 25)),
        ("03/25/2026", date(2026, 3, 25)),
        ("05/05/2026", date(2026, 5, 5)),
        ("4 March 2026", date(2026, 3, 4)),
        ("4 mar 26", date(2026, 3, 4)),
        ("2026-03-04", date(2026, 3, 4)),
        ("2026-03-04 00:00:00", date(2026, 3, 4)),
        ("29.02.2024", date(2024, 2, 29)),
    ],
)
def test_dates_in_all_their_forms(text: str, day: date) -> None:
    """Real dates, texts of several orders, names of months, two-digit years."""
    assert read_date(text, DATES).day == day


@pytest.mark.parametrize("serial", ["46085", "46085.5", "45292.291666667", "36526"])
def test_serial_dates_agree_with_openpyxl(serial: str) -> None:
    """A date that lost its format is a day number; openpyxl is the independent reader."""
    stamp = read_date(serial, DATES)
    expected = from_excel(float(serial))
    clock = stamp.clock or time()
    assert stamp.day is not None
    assert abs((datetime.combine(stamp.day, clock) - expected).total_seconds()) < 1.0


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("04/05/2026", r"ambiguous \(4 May 2026 or 5 Apr 2026\)"),
        ("31.02.2026", "no day of the calendar"),
        ("29.02.2026", "no day of the calendar"),
        ("2026-13-01", "no day of the calendar"),
        ("13/13/2026", "no day of the calendar"),
        ("tomorrow", "not a date in a known form"),
        ("4.3", "not a date in a known form"),
        ("04.03.226", "not a date in a known form"),
        ("460850", "not a date in a known form"),
        ("4 Foo 2026", "no day of the calendar"),
        ("04.03.0226", "not of this age"),
        ("0001-01-01T00:00:00+02:00", "not of this age"),
        ("9999-12-31 23:59:59.9", "no day of the calendar"),
    ],
)
def test_ambiguous_and_impossible_dates_are_refused(text: str, why: str) -> None:
    """Nothing is guessed: two readings or none is a refusal."""
    with pytest.raises(InputError, match=why):
        read_date(text, DATES)


@pytest.mark.parametrize(
    ("text", "clock"),
    [
        ("7:00", time(7)),
        ("07.30", time(7, 30)),
        ("23:59:58", time(23, 59, 58)),
        ("1899-12-31 07:00:00", time(7)),
        ("2026-03-04 06:59:59.999", time(7)),
        ("0.291666667", time(7)),
        ("0,375", time(9)),
        ("0", time(0)),
    ],
)
def test_times_in_all_their_forms(text: str, clock: time) -> None:
    """Time cells, texts, and fractions of a day."""
    assert read_time(text, TIMES).clock == clock


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("25:00", "no time of day"),
        ("24:00", "no time of day"),
        ("12:60", "no time of day"),
        ("0.25", r"ambiguous \(00:25 or 06:00\)"),
        ("seven", "not a time in a known form"),
        ("7", "not a time in a known form"),
    ],
)
def test_impossible_times_are_refused(text: str, why: str) -> None:
    """A time that the clock never shows, or that can be two."""
    with pytest.raises(InputError, match=why):
        read_time(text, TIMES)


@pytest.mark.parametrize(
    "text",
    [
        "12:00 AM",
        "12:05 a.m.",
        "1:30 am",
        "11:59 AM",
        "12:00 PM",
        "12:30pm",
        "1.15 PM",
        "11:59:30 PM",
        "6 pm",
    ],
)
def test_twice_twelve_hours_agree_with_the_standard_library(text: str) -> None:
    """Midnight is 12 am, noon 12 pm, as strptime reads %I and %p."""
    plain = text.upper().replace(".M.", "M").replace(".", ":").replace("PM", " PM").split()
    form = "%I" + ":%M" * plain[0].count(":")
    expected = datetime.strptime(" ".join(plain), f"{form.replace(':%M:%M', ':%M:%S')} %p")  # noqa: DTZ007
    assert read_time(text, ()).clock == expected.time()


def test_there_is_no_thirteen_o_clock_twice_a_day() -> None:
    """13 pm is refused."""
    with pytest.raises(InputError, match="no time of day"):
        read_time("13:00 PM", TIMES)


def test_a_stray_word_in_a_pattern_is_refused() -> None:
    """Patterns are made of six words."""
    with pytest.raises(ValueError, match="'mounth'"):
        compiled("day.mounth.year")


def test_ordinary_times_follow_summer_and_winter() -> None:
    """Central European Time is UTC+1, summer time UTC+2 (Directive 2000/84/EC)."""
    assert in_zone(wall("2026-01-15 07:00"), BERLIN)[0].at == datetime(2026, 1, 15, 6, tzinfo=UTC)
    assert in_zone(wall("2026-07-15 07:00"), BERLIN)[0].at == datetime(2026, 7, 15, 5, tzinfo=UTC)


def test_the_skipped_hour_is_doubtful() -> None:
    """Summer time begins at 01:00 UTC on the last Sunday of March (Directive 2000/84/EC): 29 March 2026."""
    (moment,) = in_zone(wall("2026-03-29 02:30"), BERLIN)
    assert moment.at == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert moment.doubt == "the clocks skipped 02:30 that night; taken as 03:30 CEST"
    for minute in (wall("2026-03-29 01:59"), wall("2026-03-29 03:00")):
        assert in_zone(minute, BERLIN)[0].doubt == ""


def test_the_repeated_hour_is_doubtful_and_says_which() -> None:
    """Summer time ends at 01:00 UTC on the last Sunday of October (Directive 2000/84/EC): 25 October 2026."""
    first, second = in_zone(wall("2026-10-25 02:30"), BERLIN)
    assert first.at == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert second.at == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    assert "the first (CEST)" in first.doubt
    assert "the second (CET)" in second.doubt
    assert len(in_zone(wall("2026-10-25 03:00"), BERLIN)) == 1
