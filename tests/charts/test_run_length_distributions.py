"""Run lengths as distributions: means against the printed tables' equations, shapes against simulation."""

from __future__ import annotations

import math
from itertools import accumulate

import numpy as np
import pytest

from sandlab.charts import (
    RunLengthDistribution,
    cusum_run_length,
    cusum_run_length_distribution,
    ewma_run_length,
    ewma_run_length_distribution,
    individuals_alarm_rate_ar1,
    individuals_run_length_distribution,
    moving_range_run_length,
    moving_range_run_length_distribution,
    rule_set,
    rules_run_length,
    rules_run_length_distribution,
)
from sandlab.errors import InputError


@pytest.mark.parametrize(
    ("found", "mean"),
    [
        (ewma_run_length_distribution(0.1, 2.814), ewma_run_length(0.1, 2.814)),
        (ewma_run_length_distribution(0.03, 2.4, shift=0.5), ewma_run_length(0.03, 2.4, shift=0.5)),
        (
            ewma_run_length_distribution(0.2, 3.0, start=0.5, steady_limits=True),
            ewma_run_length(0.2, 3.0, start=0.5, steady_limits=True),
        ),
        (cusum_run_length_distribution(0.5, 5.0, sides=1), cusum_run_length(0.5, 5.0, sides=1)),
        (cusum_run_length_distribution(0.5, 5.0), cusum_run_length(0.5, 5.0)),
        (cusum_run_length_distribution(0.25, 8.0, shift=0.3), cusum_run_length(0.25, 8.0, shift=0.3)),
        (cusum_run_length_distribution(0.5, 4.0, head_start=2.0), cusum_run_length(0.5, 4.0, head_start=2.0)),
        (rules_run_length_distribution(rule_set("western_electric")), 91.7508),
        (
            rules_run_length_distribution(["nine_one_side"], shift=1.0),
            rules_run_length(["nine_one_side"], shift=1.0),
        ),
        (
            moving_range_run_length_distribution(2.0, range_width=3.0),
            moving_range_run_length(2.0, range_width=3.0),
        ),
        (individuals_run_length_distribution(0.9), individuals_alarm_rate_ar1(0.9).average_run_length),
        (
            individuals_run_length_distribution(-0.5, 2.5, shift=1.0),
            individuals_alarm_rate_ar1(-0.5, 2.5, shift=1.0).average_run_length,
        ),
    ],
)
def test_means_agree_with_the_solved_equations(found: RunLengthDistribution, mean: float) -> None:
    """Summing the shares of runs left gives the mean that the printed tables check."""
    assert found.mean == pytest.approx(mean, rel=2e-6)
    assert np.all(np.diff(found.surviving) <= 1e-12)


def test_an_individuals_chart_is_geometric() -> None:
    """With a false-alarm chance of 0.0027 per test: median 257, 10 % by 39, 90 % by 852 (derived)."""
    chance = math.erfc(3.0 / math.sqrt(2.0))
    for found in (individuals_run_length_distribution(), ewma_run_length_distribution(1.0, 3.0)):
        for share in (0.1, 0.5, 0.9, 0.999):
            assert found.quantile(share) == math.ceil(math.log(1.0 - share) / math.log(1.0 - chance))
        for tests in (0, 1, 50, 5000):
            assert found.within(tests) == pytest.approx(1.0 - (1.0 - chance) ** tests, abs=1e-9)


def test_eight_on_one_side_from_its_recurrence() -> None:
    """Runs of 8 of a fair coin, either side: P(N > t) by counting sequences (derived)."""
    # Sequences of t tests whose last run is j long; a run that turns starts anew at 1.
    counts, left = [2.0] + [0.0] * 6, [1.0]
    for _ in range(200):
        left.append(sum(counts) / 2.0 ** len(left))
        counts = [sum(counts), *counts[:-1]]
    found = rules_run_length_distribution(["eight_one_side"])
    for tests, share in enumerate(left):
        assert 1.0 - found.within(tests) == pytest.approx(share, abs=1e-9)
    assert found.mean == pytest.approx(255.0)


def test_two_sided_cusum_shape_by_simulation() -> None:
    """Shares of runs over after 2 to 40 tests with a head start, 20 000 simulated, within 4 errors."""
    random = np.random.default_rng(18)
    values = random.normal(0.5, 1.0, (20_000, 40))
    high, low = np.full(20_000, 2.0), np.full(20_000, 2.0)
    over = np.zeros((20_000, 40), dtype=bool)
    for test in range(40):
        high = np.maximum(0.0, high + values[:, test] - 0.5)
        low = np.maximum(0.0, low - values[:, test] - 0.5)
        over[:, test] = (high > 4.0) | (low > 4.0)
    ended = np.logical_or.accumulate(over, axis=1).mean(axis=0)
    found = cusum_run_length_distribution(0.5, 4.0, shift=0.5, head_start=2.0)
    for test in (1, 3, 8, 20, 39):
        error = math.sqrt(ended[test] * (1.0 - ended[test]) / 20_000)
        assert found.within(test + 1) == pytest.approx(ended[test], abs=4 * error)


def test_ewma_shape_by_simulation() -> None:
    """Shares of runs over under limits that widen at first, 20 000 simulated, within 4 errors."""
    values = np.random.default_rng(19).normal(0.5, 1.0, (20_000, 40)).T
    averages = np.array(list(accumulate(values, lambda z, x: 0.9 * z + 0.1 * x, initial=np.zeros(20_000))))[
        1:
    ]
    reach = 2.7 * np.sqrt(0.1 / 1.9 * (1.0 - 0.9 ** (2.0 * np.arange(1, 41))))
    ended = np.logical_or.accumulate(np.abs(averages) > reach[:, None], axis=0).mean(axis=1)
    found = ewma_run_length_distribution(0.1, 2.7, shift=0.5)
    for test in (0, 4, 15, 39):
        error = math.sqrt(ended[test] * (1.0 - ended[test]) / 20_000)
        assert found.within(test + 1) == pytest.approx(ended[test], abs=4 * error)


def test_extreme_settings_stay_finite() -> None:
    """Run lengths of hundreds of millions and of one test, and CUSUMs that forget slowly."""
    for found in (
        ewma_run_length_distribution(1.0, 6.0),
        ewma_run_length_distribution(0.005, 2.0),
        cusum_run_length_distribution(0.0, 10.0),
        cusum_run_length_distribution(0.5, 5.0, shift=30.0),
        individuals_run_length_distribution(0.95, shift=10.0),
    ):
        assert 1.0 <= found.mean < 1e9
        assert 1.0 <= found.quantile(0.1) <= found.median <= found.quantile(0.9)


def test_impossible_settings_are_refused() -> None:
    """Settings out of range, a head start with which both sums could alarm at once, odd shares."""
    with pytest.raises(InputError, match="half of it plus"):
        cusum_run_length_distribution(0.1, 4.0, head_start=2.5)
    assert cusum_run_length_distribution(0.1, 4.0, head_start=2.5, sides=1).mean > 1.0
    for call in (
        lambda: ewma_run_length_distribution(0.0, 3.0),
        lambda: rules_run_length_distribution(["six_trend"]),
        lambda: moving_range_run_length_distribution(0.0),
        lambda: individuals_run_length_distribution(1.0),
        lambda: individuals_run_length_distribution().quantile(1.0),
        lambda: individuals_run_length_distribution().within(-1),
    ):
        with pytest.raises(InputError):
            call()
