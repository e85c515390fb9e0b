"""Ranges, round ticks and times on the plant's clock."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from sandlab.drawing import ChartPicture
from sandlab.drawing.axes import clock_text, farthest_beyond, nice_step, time_ticks, value_range, value_ticks
from tests.drawing.samples import HOUR, START, ZONE, compactability, hours, wave


def test_limits_and_data_are_always_inside() -> None:
    low, high = value_range(compactability())
    assert low < 38.4
    assert high > 45.9


def test_one_wild_value_does_not_flatten_the_rest() -> None:
    values = wave(60)
    values[10] = 420.0
    picture = replace(compactability(), values=values, reaction_high=None)
    low, high = value_range(picture)
    assert high < 52.0
    assert farthest_beyond(picture, low, high) == (10,)
    assert value_range(replace(picture, show_all=True))[1] > 420.0


def test_a_lasting_shift_is_shown_in_full() -> None:
    values = wave(60)
    values[30:] += 40.0
    assert value_range(replace(compactability(), values=values))[1] > float(values.max())


def test_far_reaction_limits_do_not_flatten_the_chart() -> None:
    low, high = value_range(replace(compactability(), reaction_low=0.0, reaction_high=100.0))
    assert high - low < 25.0


@pytest.mark.parametrize("count", [0, 1, 2])
def test_few_or_constant_values_still_have_a_range(count: int) -> None:
    picture = ChartPicture(hours(count), np.full(count, 3.2))
    low, high = value_range(picture)
    assert high - low >= 0.4
    picture = ChartPicture(hours(count), np.full(count, np.nan))
    assert value_range(picture)[1] > value_range(picture)[0]


@pytest.mark.parametrize(
    ("span", "most", "decimals", "step"),
    [(10.0, 5, 1, 2.0), (10.0, 4, 1, 5.0), (0.7, 7, 1, 0.1), (0.3, 9, 1, 0.1), (45.0, 5, 0, 10.0)],
)
def test_steps_are_one_two_or_five_and_never_finer_than_the_last_digit(
    span: float, most: int, decimals: int, step: float
) -> None:
    assert nice_step(span, most, decimals) == pytest.approx(step)


def test_tick_labels_follow_decimals_and_decimal_mark() -> None:
    picture = replace(compactability(), decimals=2, decimal_mark=",")
    assert [tick.label for tick in value_ticks(2.9, 3.35, 5, picture)] == [
        "2,90",
        "3,00",
        "3,10",
        "3,20",
        "3,30",
    ]
    assert [tick.label for tick in value_ticks(-0.1, 0.1, 2, compactability())] == ["-0.1", "0.0", "0.1"]


def test_time_ticks_stand_on_local_hours_and_name_the_day_at_midnight() -> None:
    ticks = time_ticks(START, START + 30 * HOUR, 5, ZONE)
    assert [tick.label for tick in ticks] == ["06:00", "12:00", "18:00", "5 Mar", "06:00", "12:00"]
    assert ticks[0].at == START


def test_time_ticks_keep_local_hours_over_the_change_to_summer_time() -> None:
    # EU Directive 2000/84/EC: summer time begins at 01:00 UTC on the last Sunday of March, in 2026 the 29th.
    start = int(datetime(2026, 3, 28, 23, tzinfo=UTC).timestamp()) * 1_000_000
    ticks = time_ticks(start, start + 23 * HOUR, 4, ZONE)
    utc = [datetime.fromtimestamp(tick.at / 1e6, UTC).hour for tick in ticks]
    assert [tick.label for tick in ticks] == ["29 Mar", "06:00", "12:00", "18:00", "30 Mar"]
    assert utc == [23, 4, 10, 16, 22]
    hourly = [tick.label for tick in time_ticks(start, start + 4 * HOUR, 8, ZONE)]
    assert "02:00" not in hourly
    assert {"01:00", "03:00"} <= set(hourly)


@pytest.mark.parametrize(("days", "label"), [(6, "5 Mar"), (20, "9 Mar"), (200, "May"), (2000, "2027")])
def test_longer_windows_step_by_days_weeks_months_and_years(days: int, label: str) -> None:
    ticks = time_ticks(START, START + days * 24 * HOUR, 8, ZONE)
    assert label in [tick.label for tick in ticks]
    assert 2 <= len(ticks) <= 10


def test_clock_text_is_local() -> None:
    assert clock_text(START, ZONE) == "4 Mar 2026 06:00"


def test_arrays_that_do_not_belong_together_are_refused() -> None:
    with pytest.raises(ValueError, match="do not belong together"):
        ChartPicture(hours(3), wave(4))
    with pytest.raises(ValueError, match="do not ascend"):
        ChartPicture(hours(3)[::-1], wave(3))


def test_the_window_selects_tests() -> None:
    picture = replace(compactability(), start=START + 10 * HOUR, end=START + 12 * HOUR)
    assert picture.shown() == slice(10, 13)
