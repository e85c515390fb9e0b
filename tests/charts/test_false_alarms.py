"""False alarms over all charts in use: printed run lengths, drawn baselines, the cost of each rule, words."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sandlab.charts import (
    ChartInUse,
    ewma_run_length,
    false_alarms,
    individuals_alarm_rate_ar1,
    rule_costs,
    rule_set,
)
from sandlab.charts.conditional import baseline_run_length
from sandlab.charts.normal import below
from sandlab.charts.words import about, every, from_to
from sandlab.errors import InputError


def generator() -> np.random.Generator:
    """A fresh generator, so that tests do not depend on each other."""
    return np.random.default_rng(14)


def test_twelve_hourly_charts() -> None:
    """370.4 tests of twelve charts, one an hour each: 30.9 hours (Champ & Woodall 1987, Table 1, rule 1)."""
    found = false_alarms([ChartInUse(str(place), 24.0) for place in range(12)], random=generator())
    assert found.days * 24.0 == pytest.approx(370.3983 / 12.0, abs=1e-3)
    assert found.days_low == pytest.approx(found.days_high) == pytest.approx(found.days)
    assert found.sentence == "About one false alarm every 31 hours over 12 charts."


def test_rules_and_averages_add_their_alarms() -> None:
    """Western Electric rules: 91.75 tests; without draws an EWMA beside limits adds its rate."""
    (chart,) = false_alarms([ChartInUse("GCS", 2.0, rule_set("western_electric"))], random=generator()).charts
    assert chart.tests == pytest.approx(91.75, abs=0.005)
    (chart,) = false_alarms([ChartInUse("GCS", 2.0, ewma=(0.2, 2.86))]).charts
    assert 1.0 / chart.tests == pytest.approx(1.0 / 370.398 + 1.0 / ewma_run_length(0.2, 2.86), rel=1e-4)


def test_moving_range_limits_of_autocorrelated_tests() -> None:
    """At phi 0.5 they alarm every 34 tests and not every 370."""
    (chart,) = false_alarms(
        [ChartInUse("LOI", 1.0, phi=0.5, basis="moving_range")], random=generator()
    ).charts
    assert 34.0 < chart.tests < 34.5


@pytest.mark.parametrize("count", [20, 50, 200])
def test_range_over_baselines(count: int) -> None:
    """10 %, median and 90 % of independent baselines, against the exact law, within 8 %."""
    (chart,) = false_alarms([ChartInUse("GCS", 24.0, baseline_count=count)], random=generator()).charts
    exact = baseline_run_length(count)
    assert (chart.tests_low, chart.tests, chart.tests_high) == pytest.approx(
        (exact.low, exact.median, exact.high), rel=0.12 if count == 20 else 0.08
    )


def test_range_over_baselines_of_many_charts() -> None:
    """The total of twelve charts, by 4000 times twelve drawn baselines, within 5 %."""
    random = np.random.default_rng(30)
    centres = random.standard_normal((4000, 12)) / math.sqrt(30)
    sigmas = 3.0 * np.sqrt(random.chisquare(29, (4000, 12)) / 29)
    rates = (below(centres - sigmas) + below(-centres - sigmas)).sum(axis=1)
    found = false_alarms([ChartInUse(str(place), 24.0, baseline_count=30) for place in range(12)])
    expected = np.quantile(1.0 / (24.0 * rates), [0.1, 0.5, 0.9])
    assert (found.days_low, found.days, found.days_high) == pytest.approx(tuple(expected), rel=0.05)
    assert found.sentence == (
        f"About one false alarm every {every(found.days)} over 12 charts "
        f"({from_to(found.days_low, found.days_high)}: limits from few tests are uncertain)."
    )


def test_noise_of_testing_makes_false_alarms_more_alike() -> None:
    """Rules on a signal seen through noise, by simulation; the limits alone by their equation."""
    chart = ChartInUse("LOI", 1.0, phi=0.95, signal_share=0.5, basis="moving_range")
    (alone,) = false_alarms([chart]).charts
    exact = individuals_alarm_rate_ar1(0.95, 3.0 * math.sqrt(1.0 - 0.475), signal_share=0.5)
    assert alone.tests == pytest.approx(exact.average_run_length)
    simulated = rule_costs(replace(chart, rules=("eight_both_sides",)), random=generator())[0]
    assert simulated.tests_with == pytest.approx(alone.tests, rel=0.1)


def test_cost_of_each_rule() -> None:
    """Beside the limits, each Western Electric rule brings the printed run length; a trend rule about 200."""
    costs = {cost.rule: cost for cost in rule_costs(ChartInUse("GCS", 24.0), random=generator())}
    printed = {"two_of_three_outer": 225.44, "four_of_five_middle": 166.05, "eight_one_side": 152.73}
    for rule, tests in printed.items():
        assert costs[rule].tests_with == pytest.approx(tests, abs=0.005)
        assert costs[rule].tests_without == pytest.approx(370.4, abs=0.005)
    assert costs["beyond_limit"].tests_without is None
    trend = costs["six_trend"]
    # The trend alone alarms every 420 tests, so with the limits every 197 or a little more.
    assert abs(trend.tests_with - 201.0) < 4 * trend.standard_error + 4.0
    assert costs["eight_one_side"].sentence == (
        "eight points running on one side of the centre: one false alarm in 150 tests instead of 370"
    )
    assert "next to nothing" in costs["eight_both_sides"].sentence


def test_cost_of_a_rule_in_use() -> None:
    """A rule in use is judged by what leaving it out would save."""
    chart = ChartInUse("GCS", 24.0, rule_set("western_electric"))
    costs = {cost.rule: cost for cost in rule_costs(chart, random=generator())}
    cost = costs["eight_one_side"]
    assert cost.in_use and cost.tests_without is not None
    assert cost.tests_with == pytest.approx(91.75, abs=0.005)
    assert cost.tests_without > 120.0


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (370.4, "370"),
        (31.2, "31"),
        (9.96, "10"),
        (1.04, "1"),
        (1.5, "1.5"),
        (0.123, "0.12"),
        (2e6, "over a million"),
    ],
)
def test_two_digits(number: float, text: str) -> None:
    """Numbers in words carry two digits."""
    assert about(number) == text


def test_times_in_words() -> None:
    """Each time has the unit that fits."""
    assert [every(days) for days in (0.5, 1.0, 9.0, 61.0, 800.0, 1 / 24)] == [
        "12 hours", "24 hours", "9 days", "2 months", "2.2 years", "1 hour",
    ]  # fmt: skip
    assert from_to(0.5, 1.2) == "12 to 29 hours"
    assert from_to(1.0, 30.0) == "24 hours to 30 days"


def test_impossible_charts_are_refused() -> None:
    """Every problem of every chart is named at once."""
    charts = [
        ChartInUse("GCS", 0.0, (), width=9.0),
        ChartInUse("LOI", 1.0, phi=1.0, baseline_count=3),
        ChartInUse("fines", 1.0, ewma=(0.0, 3.0)),
    ]
    with pytest.raises(InputError) as caught:
        false_alarms(charts, random=generator())
    assert [problem.where for problem in caught.value.problems] == ["GCS"] * 3 + ["LOI"] * 2 + ["fines"]
    with pytest.raises(InputError, match="random generator"):
        false_alarms([ChartInUse("GCS", 1.0, ("six_trend",))])
    with pytest.raises(InputError, match="average has no run-length equation"):
        false_alarms([ChartInUse("GCS", 1.0, phi=0.9, ewma=(0.2, 2.86), model=(0.3, 1.0))])
    with pytest.raises(InputError, match="signal share"):
        false_alarms([ChartInUse("GCS", 1.0, model=(0.3, 1.1))])
    with pytest.raises(InputError, match="none in use"):
        false_alarms([], random=generator())
    with pytest.raises(InputError, match="not a rule"):
        false_alarms([ChartInUse("GCS", 1.0, ("nine",))], random=generator())
