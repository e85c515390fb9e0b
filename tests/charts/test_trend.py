"""Robust trends and the way to a limit, against scipy, printed tables and simulation."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from sandlab.charts.outlook import time_to_limit, trend_outlook
from sandlab.charts.trend import kendall_tail, robust_trend
from sandlab.errors import InputError
from tests.charts.published_data import rows
from tests.charts.test_phase_one import related

SURE: dict[str, Any] = {"level_error": 0.0, "slope_error": 0.0}


@pytest.mark.parametrize("row", rows("kendall_critical.csv"), ids=lambda row: row["n"])
def test_printed_critical_values_of_kendall(row: dict[str, str]) -> None:
    """Each printed value is the smallest whose upper tail does not pass its level."""
    count = int(row["n"])
    pairs, tail = count * (count - 1) // 2, kendall_tail(count)
    for level, printed in list(row.items())[1:]:
        inversions = round((pairs - float(printed) * pairs) / 2)
        assert 1 - 2 * inversions / pairs == pytest.approx(float(printed), abs=0.00051)
        assert tail[inversions] <= float(level)
        assert tail[inversions + 1] > float(level)


def test_tail_is_scipys() -> None:
    """Two-sided exact chances by scipy's Kendall test."""
    random = np.random.default_rng(1)
    for count in (5, 9, 30):
        values = random.normal(size=count)
        expected = stats.kendalltau(np.arange(count), values, method="exact").pvalue
        assert robust_trend(values, np.arange(count)).chance == pytest.approx(expected)


@pytest.mark.parametrize("ties", [False, True])
def test_slope_and_limits_of_many_tests_are_scipys(ties: bool) -> None:
    """80 tests: scipy's slope; its limits by the normal law lie within two ranks (it rounds them)."""
    random = np.random.default_rng(2)
    hours = np.cumsum(random.uniform(0.5, 3.0, 80))
    values = 42.0 + 0.05 * hours + random.normal(0.0, 1.0, 80)
    values = np.round(values) if ties else values
    expected = stats.theilslopes(values, hours, 0.9)
    found = robust_trend(values, hours, phi=0.0)
    assert found.slope == pytest.approx(expected.slope)
    assert found.slope_low == pytest.approx(expected.low_slope, abs=4e-4)
    assert found.slope_high == pytest.approx(expected.high_slope, abs=4e-4)
    assert found.chance == pytest.approx(stats.kendalltau(hours, values).pvalue, rel=0.2)


@pytest.mark.parametrize(("phi", "count"), [(0.0, 12), (0.0, 60), (0.5, 40)])
def test_limits_hold_the_slope_as_often_as_stated(phi: float, count: int) -> None:
    """500 simulated drifts, known phi: 90 % limits hold the slope in 88 to 96 %, the level in 86 to 94 %."""
    random, hours = np.random.default_rng(3), np.arange(count) * 1.5
    held = np.zeros(2)
    for _ in range(500):
        found = robust_trend(0.02 * hours + related(phi, count, random), hours, phi=phi)
        held[0] += found.slope_low <= 0.02 <= found.slope_high
        held[1] += abs(found.level - 0.02 * hours[-1]) <= 1.645 * found.level_error
    assert 0.88 <= held[0] / 500 <= 0.96
    assert 0.86 <= held[1] / 500 <= 0.94


def test_autocorrelation_is_taken_from_the_tests() -> None:
    """Related tests without drift: sure of one in at most 18 % of 200 series, plain limits twice as often."""
    random, hours = np.random.default_rng(4), np.arange(60.0)
    series = [related(0.6, 60, random) for _ in range(200)]
    allowed = np.mean([robust_trend(values, hours).sure for values in series])
    plain = np.mean([robust_trend(values, hours, phi=0.0).sure for values in series])
    assert allowed <= 0.18
    assert plain > 2 * allowed


def test_odd_tests_do_not_turn_the_slope() -> None:
    """A fifth of the tests mistyped by a factor of ten: the slope stays within its limits."""
    random, hours = np.random.default_rng(5), np.arange(40.0)
    values = 100.0 + 0.5 * hours + random.normal(0.0, 1.0, 40)
    values[::5] *= 10.0
    found = robust_trend(values, hours)
    assert found.slope == pytest.approx(0.5, abs=0.2)
    assert found.level == pytest.approx(120.0, abs=2.0)
    assert abs(np.polyfit(hours, values, 1)[0] - 0.5) > 1.0


def test_missing_tests_are_left_out() -> None:
    """A missing test changes nothing but the count."""
    random, hours = np.random.default_rng(6), np.arange(30.0)
    values = 0.1 * hours + random.normal(size=30)
    values[[4, 17]] = np.nan
    seen = ~np.isnan(values)
    found, plain = robust_trend(values, hours, phi=0.0), robust_trend(values[seen], hours[seen], phi=0.0)
    assert found == plain
    assert found.count == 28


def test_constant_tests_do_not_drift() -> None:
    """Equal tests: no slope, no doubt, no NaN."""
    found = robust_trend([42.0] * 10, np.arange(10.0))
    assert (found.slope, found.slope_low, found.slope_high, found.chance) == (0.0, 0.0, 0.0, 1.0)
    assert (found.level, found.level_error, found.correlation) == (42.0, 0.0, 0.0)
    assert not found.sure
    assert trend_outlook(found, 45.0).course == "away"


def test_time_to_a_limit_holds_as_often_as_stated() -> None:
    """400 simulated drifts to a limit 30 h away: the 90 % interval holds the true time in 86 to 95 %."""
    random, hours = np.random.default_rng(7), np.arange(48.0)
    held = 0
    for _ in range(400):
        values = 0.1 * hours + random.normal(0.0, 1.0, 48)
        found = trend_outlook(robust_trend(values, hours, phi=0.0), 0.1 * (hours[-1] + 30.0))
        assert found.low is not None
        held += found.low <= 30.0 <= (math.inf if found.high is None else found.high)
    assert 0.86 <= held / 400 <= 0.95


def test_the_sentence_of_a_drift() -> None:
    """Words for a limit ahead on either side, in minutes, hours and days."""
    up = time_to_limit(42.0, 0.3, 44.7, level_error=0.25, slope_error=0.08, correlation=0.8)
    down = time_to_limit(
        -42.0, -0.3, -44.7, level_error=0.25, slope_error=0.08, correlation=0.8, side="lower"
    )
    assert up == down
    assert up.course == "coming"
    assert time_to_limit(0.0, 1.0, 0.5, **SURE).sentence.endswith("about 30 min (30 to 30).")
    assert time_to_limit(0.0, 1.0, 96.0, **SURE).sentence.endswith("about 4 days (4 to 4).")
    assert time_to_limit(0.0, 0.01, 9.0, **SURE).sentence.endswith("not reached within 7 days.")


@pytest.mark.parametrize(
    ("level", "slope", "errors", "side", "course"),
    [
        (46.0, 0.1, (0.2, 0.01), "upper", "beyond"),
        (46.0, 0.1, (0.2, 0.01), "lower", "away"),
        (42.0, -0.1, (0.2, 0.01), "upper", "away"),
        (42.0, 0.1, (0.2, 0.1), "upper", "unsure"),
        (42.0, -0.05, (0.2, 0.2), "upper", "unsure"),
        (44.9, -0.1, (0.5, 0.01), "upper", "unsure"),
        (42.0, 0.001, (0.0, 0.0), "upper", "later"),
        (42.0, 0.0, (0.0, 0.0), "upper", "away"),
        (45.0, 0.0, (0.0, 0.0), "upper", "beyond"),
        (42.0, 0.5, (0.2, 0.01), "upper", "coming"),
    ],
)
def test_courses(level: float, slope: float, errors: tuple[float, float], side: Any, course: str) -> None:
    """Each way a drift can lie to a limit of 45, with finite numbers only."""
    found = time_to_limit(level, slope, 45.0, level_error=errors[0], slope_error=errors[1], side=side)
    assert found.course == course
    numbers = [number for number in (found.hours, found.low, found.high) if number is not None]
    assert all(math.isfinite(number) and number >= 0.0 for number in numbers)
    if found.low is not None and found.high is not None:
        assert found.low <= found.high


def test_interval_is_where_the_line_may_cross() -> None:
    """At both ends of the interval the line is exactly z of its own errors from the limit (Fieller 1954)."""
    found = time_to_limit(42.0, 0.3, 44.7, level_error=0.25, slope_error=0.08, correlation=0.8)
    for hours in (found.low, found.high):
        assert hours is not None
        error = math.sqrt(0.25**2 + 2 * 0.8 * 0.25 * 0.08 * hours + (0.08 * hours) ** 2)
        assert abs(42.0 + 0.3 * hours - 44.7) == pytest.approx(stats.norm.ppf(0.95) * error)


def test_impossible_input_is_refused() -> None:
    """Every problem at once; never a NaN."""
    with pytest.raises(InputError) as caught:
        robust_trend([1.0, np.nan], [2.0, 1.0], confidence=1.0, phi=1.0)
    assert [problem.where for problem in caught.value.problems] == ["values", "hours", "phi", "confidence"]
    for values, hours in (
        ([1.0] * 6, np.arange(5.0)),
        ([np.nan] * 9, np.arange(9.0)),
        ([1.0] * 6, [0.0] * 6),
    ):
        with pytest.raises(InputError):
            robust_trend(values, hours)
    with pytest.raises(InputError, match="infinite"):
        robust_trend([1.0, 2.0, 3.0, np.inf, 4.0, 5.0], np.arange(6.0))
    with pytest.raises(InputError, match="5 tests cannot give limits"):
        robust_trend([1.0, 2.0, 4.0, 3.0, 5.0], np.arange(5.0), confidence=0.99)
    with pytest.raises(InputError, match="5 to 3000"):
        robust_trend(np.arange(3001.0), np.arange(3001.0))
    with pytest.raises(InputError, match="2 to 60"):
        kendall_tail(61)
    with pytest.raises(InputError) as caught:
        time_to_limit(
            math.nan, 1.0, math.inf, level_error=-1.0, slope_error=math.nan, correlation=2.0,
            side="left", confidence=0.0, horizon=0.0,  # type: ignore[arg-type]
        )  # fmt: skip
    assert len(caught.value.problems) == 8
