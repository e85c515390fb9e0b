"""Shifts and months begin on the plant's clock, also when that clock is put forward or back."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sandlab.errors import InputError, SpecsError
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.shifts import named_month, named_shift, shift_at

NOON = datetime(2026, 11, 2, 12, 0, tzinfo=UTC)
Open = Callable[[str], Lab]


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Open]:
    """A plant in Copenhagen with the shifts written in its specs."""
    labs: list[Lab] = []

    def open_(shifts: str) -> Lab:
        folder = tmp_path / "plant"
        (folder / "specs").mkdir(parents=True)
        text = f'[plant]\ntime_zone = "Europe/Copenhagen"\nshifts = {shifts}\n'
        (folder / "specs" / "system.toml").write_text(text)
        labs.append(open_lab(folder, clock=lambda: NOON))
        return labs[-1]

    yield open_
    for lab in labs:
        lab.close()


@pytest.mark.parametrize(
    ("night", "hours"),
    [("2026-03-29T01:00", 7), ("2026-10-25T01:00", 9), ("2026-10-27T01:00", 8)],
)
def test_a_night_shift_lasts_as_long_as_the_clock_says(opened: Open, night: str, hours: int) -> None:
    """Summer time in the Union begins and ends on the last Sundays of March and October, at 01:00 UTC
    (Directive 2000/84/EC, articles 2 and 3): those nights are an hour shorter and longer."""
    lab = opened('["06:00", "14:00", "22:00"]')
    found = named_shift(lab, night)
    assert found.end - found.start == timedelta(hours=hours)
    assert "22:00 to 06:00" in found.name
    assert shift_at(lab, found.end).start == found.end
    assert found.period.until == found.end - timedelta(microseconds=1)


def test_shifts_are_found_by_name(opened: Open) -> None:
    """Half past one at noon UTC in winter is in the early shift; the last one is the night before."""
    lab = opened("[06:00:00, 18:00:00]")
    assert named_shift(lab, "now").start == datetime(2026, 11, 2, 5, 0, tzinfo=UTC)
    assert named_shift(lab, "last").start == datetime(2026, 11, 1, 17, 0, tzinfo=UTC)
    month = named_month(lab, "2026-03")
    assert month.end - month.start == timedelta(days=31, hours=-1)
    assert named_month(lab, "2025-12").end == datetime(2025, 12, 31, 23, 0, tzinfo=UTC)


def test_shifts_out_of_order_are_refused(opened: Open) -> None:
    """With the table and what is wrong."""
    with pytest.raises(SpecsError, match=r"\[plant.shifts\].*one after the other"):
        opened('["14:00", "06:00"]')


@pytest.mark.parametrize(
    ("name", "written"),
    [
        ("shift", "0001-01-01T06:00"),
        ("shift", "9999-12-31T23:00"),
        ("month", "0001-01"),
        ("month", "9999-12"),
    ],
)
def test_the_ends_of_the_calendar_are_refused(opened: Open, name: str, written: str) -> None:
    """A time there has no neighbours that could be reckoned with."""
    lab = opened('["06:00"]')
    named = named_shift if name == "shift" else named_month
    with pytest.raises(InputError, match=f"{name}: '{written}' lies outside the years 1900 to 2199"):
        named(lab, written)
