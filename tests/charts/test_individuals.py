"""Frozen baselines and the individuals chart: states, reasons in words, floors, bad input."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from sandlab.charts import MINIMUM_BASELINE, Limits, freeze, individuals, signals, zones_of
from sandlab.errors import InputError

QUIET = np.random.default_rng(11).normal(42.0, 1.5, 60)


def test_default_limits_use_the_overall_deviation() -> None:
    """An autocorrelated baseline: the overall sigma is wider than the moving-range one, and it says so."""
    random = np.random.default_rng(2)
    values = np.zeros(300)
    for place in range(1, values.size):
        values[place] = 0.8 * values[place - 1] + random.normal()
    limits = freeze(values)
    assert limits.sigma == limits.sigma_overall > 1.5 * limits.sigma_moving_range
    assert "autocorrelated" in limits.flags
    # Moving ranges estimate sigma sqrt(1 - phi), so the ratio of the two tells the autocorrelation.
    ratio = limits.sigma_moving_range / limits.sigma_overall
    assert ratio == pytest.approx(np.sqrt(1.0 - limits.lag1), abs=0.05)


def test_limits_come_back_from_their_stored_figures() -> None:
    """A baseline written down as plain figures draws the same limits."""
    limits = freeze(QUIET)
    again = Limits(
        limits.centre, limits.sigma, limits.count, limits.sigma, limits.sigma_moving_range, limits.lag1
    )
    assert (again.lower, again.upper) == (limits.lower, limits.upper)
    assert again.moving_range_upper == limits.moving_range_upper


def test_excluded_points_leave_the_baseline() -> None:
    """A point with a known cause is left out, and the moving ranges beside it with it."""
    spoiled = QUIET.copy()
    spoiled[20] = 80.0
    gap = QUIET.copy()
    gap[20] = np.nan
    limits = freeze(spoiled, excluded=[20])
    assert limits.excluded == (20,)
    assert (limits.centre, limits.sigma, limits.sigma_moving_range) == (
        freeze(gap).centre, freeze(gap).sigma, freeze(gap).sigma_moving_range,
    )  # fmt: skip


def test_no_limit_below_the_floor() -> None:
    """A percentage near 0 has no lower limit below 0, and 0 itself does not signal."""
    values = np.abs(np.random.default_rng(1).normal(0.5, 0.5, 40))
    limits = freeze(values, floor=0.0)
    assert limits.lower == 0.0
    chart = individuals([0.0, 0.4], None, limits)
    assert chart.state == "in control"


def test_signal_in_words() -> None:
    """The state, the alarm and the reason, with its numbers in the property's decimals and unit."""
    limits = Limits(42.0, 1.5, 60, 1.5, 1.5, 0.0)
    chart = individuals([42.0, 43.1, 47.3, np.nan, 41.0], None, limits, decimals=1, unit="%")
    assert chart.state == "signal"
    assert chart.sentence == "Signal one test ago: 47.3 % is above the upper control limit 46.5 %."
    assert chart.latest_alarm is not None
    assert (chart.latest_alarm.index, chart.latest_alarm.side) == (2, "up")
    assert chart.zones.tolist() == [1, 1, 4, 0, -1]
    assert not np.isnan(chart.zones).any()


def test_run_rules_are_shown_and_not_alarmed() -> None:
    """Nine points above the centre are a signal to look at, not an alarm."""
    limits = Limits(42.0, 1.5, 60, 1.5, 1.5, 0.0)
    chart = individuals([42.5, 43.0] * 5, None, limits)
    assert {signal.rule for signal in chart.signals} >= {"eight_one_side", "nine_one_side"}
    assert chart.state == "in control"
    assert individuals([42.5, 43.0] * 5, None, limits, alarms=["nine_one_side"]).state == "signal"


def test_an_old_alarm_leaves_the_state_and_stays_on_the_chart() -> None:
    """After five good tests the state is in control again."""
    limits = Limits(42.0, 1.5, 60, 1.5, 1.5, 0.0)
    good = [42.1, 41.8, 42.2, 41.5, 42.4]
    assert individuals([50.0, *good[:4]], None, limits).state == "signal"
    chart = individuals([50.0, *good], None, limits)
    assert chart.state == "in control"
    assert chart.signals[0].alarm


def test_a_corrected_value_is_its_present_value() -> None:
    """Correcting the only point beyond the limit takes the signal away."""
    limits = Limits(42.0, 1.5, 60, 1.5, 1.5, 0.0)
    assert individuals([42.0, 53.0], None, limits).state == "signal"
    assert individuals([42.0, 43.0], None, limits).state == "in control"


@pytest.mark.parametrize(
    ("values", "limits", "state", "sentence"),
    [
        ([], None, "too few", "0 of the 8 tests"),
        ([1.0, np.nan, 2.0], None, "too few", "2 of the 8 tests"),
        ([np.nan] * 5, freeze(QUIET), "too few", "No test measured"),
        (QUIET, None, "no baseline", "No baseline frozen"),
        (QUIET, freeze([42.0] * 20), "no baseline", "all baseline values are equal"),
    ],
)
def test_states_without_a_judgement(
    values: list[float], limits: Limits | None, state: str, sentence: str
) -> None:
    """Too few tests, no baseline, a baseline of equal values: said in words, nothing flagged."""
    chart = individuals(values, None, limits)
    assert chart.state == state
    assert sentence in chart.sentence
    assert chart.signals == ()


def test_moving_range_limit() -> None:
    """A jump of one value shows on the moving-range chart at both its sides."""
    limits = freeze(QUIET, basis="moving_range")
    values = np.full(12, 42.0)
    values[6] = 42.0 + 1.01 * limits.moving_range_upper
    assert individuals(values, None, limits).moving_range_beyond == (6, 7)


@pytest.mark.parametrize("count", [0, 1, 2, MINIMUM_BASELINE - 1])
def test_a_baseline_of_few_points_is_refused(count: int) -> None:
    """Two points are no baseline."""
    with pytest.raises(InputError, match="at least 8"):
        freeze(QUIET[:count])


def test_every_problem_of_a_baseline_at_once() -> None:
    """Too few values and a width of 0 are both named."""
    with pytest.raises(InputError) as caught:
        freeze([1.0, 2.0], width=0.0)
    assert {problem.where for problem in caught.value.problems} == {"baseline", "width"}


def test_bad_baselines_are_refused() -> None:
    """All missing, infinite, never two in a row, an excluded place that is not there."""
    for values in ([np.nan] * 30, [np.inf, *QUIET]):
        with pytest.raises(InputError, match="baseline"):
            freeze(values)
    gappy = QUIET.copy()
    gappy[::2] = np.nan
    with pytest.raises(InputError, match="follow each other"):
        freeze(gappy)
    with pytest.raises(InputError, match="no value at 60"):
        freeze(QUIET, excluded=[60])


def test_times_are_checked() -> None:
    """Repeated, unsorted or too few times are refused."""
    for times in ([1, 1], [2, 1], [1]):
        with pytest.raises(InputError, match="times"):
            individuals([1.0, 2.0], times, None)


def test_drawing_a_chart_needs_no_scipy() -> None:
    """A fresh interpreter that draws a chart has not loaded scipy, which is slow to import."""
    code = (
        "import sys; from sandlab.charts import freeze, individuals, ewma, cusum, change_point\n"
        "x = [40.0, 41.0, 42.5, 40.5, 43.0, 41.5, 42.0, 40.0, 41.0]; limits = freeze(x)\n"
        "individuals(x, None, limits); ewma(x, limits); cusum(x, limits); change_point(x, limits)\n"
        "sys.exit('scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_no_zones_without_spread() -> None:
    """A constant baseline has no zones."""
    with pytest.raises(InputError, match="equal"):
        zones_of([1.0], freeze([42.0] * 20))


def test_a_value_and_the_limit_it_is_beyond_never_read_the_same() -> None:
    """36.6 below 36.7 is not told as 37 below 37."""
    limits = Limits(42.0, 1.77, 99, 1.77, 1.77, 0.0)
    found = signals([42.0, 36.6, 30.0], limits, rules=["beyond_limit"], decimals=0, unit="%")
    assert [one.reason for one in found] == [
        "36.6 % is below the lower control limit 36.7 %",
        "30 % is below the lower control limit 37 %",
    ]
