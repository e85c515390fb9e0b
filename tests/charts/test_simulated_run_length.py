"""Simulated run lengths against exact ones: zone rules, runs of rising values, autocorrelated tests."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts import (
    RunLengthDistribution,
    ewma_run_length,
    individuals_alarm_rate_ar1,
    rule_set,
    rules_run_length,
    rules_run_length_distribution,
    simulated_ewma_run_length,
    simulated_run_length,
)
from sandlab.errors import InputError

INNER = math.erf(1.0 / math.sqrt(2.0))


def agrees(found: RunLengthDistribution, exact: float) -> bool:
    """Whether the mean lies within four of its standard errors, which are below 3 %."""
    return abs(found.mean - exact) <= 4 * found.standard_error < 0.12 * exact


@pytest.mark.parametrize(
    ("rules", "shift", "exact"),
    [
        (rule_set("western_electric"), 0.0, 91.75),  # Champ & Woodall 1987, Table 1
        (("beyond_limit", "four_of_five_middle"), 0.4, 63.88),  # the same
        (("nine_one_side",), 0.0, 511.0),  # 2^9 - 1 (derived)
        # Rising or falling runs of 6 among all orders, by Euler's series for one side (derived).
        (("six_trend",), 0.0, 0.5 / (1 / 720 - 1 / 5040 + 1 / math.factorial(12) - 1 / math.factorial(13))),
        (("fifteen_inner",), 0.0, (1.0 - INNER**15) / ((1.0 - INNER) * INNER**15)),  # runs of 15 (derived)
    ],
)
def test_rules_with_a_known_run_length(rules: tuple[str, ...], shift: float, exact: float) -> None:
    """4000 runs come within four standard errors of the exact average run length."""
    assert agrees(simulated_run_length(rules, np.random.default_rng(2), shift=shift), exact)


def alternating_by_ranks(length: int) -> float:
    """Mean tests until `length` values running go up and down in turn, by the law of the last value.

    The density over the last value of series not yet alternating that long, per steps turned so far, carried
    from test to test on a fine grid (derived, an independent method).
    """
    cells = 400
    # State: turns so far at the end (0 ... length - 3) and whether the last step rose; by symmetry it rose.
    left, total = np.zeros((length - 2, cells)), 2.0
    at = (np.arange(cells) + 0.5) / cells
    left[0] = at / cells  # the second value lies above the first: half of all, doubled below
    for _ in range(20_000):
        share = 2.0 * float(left.sum())
        total += share
        if share < 1e-9:
            break
        above = (left[:, ::-1].cumsum(axis=1)[:, ::-1] - 0.5 * left) / cells  # next value below the last
        below = (left.cumsum(axis=1) - 0.5 * left) / cells  # next value above the last
        onward = np.zeros_like(left)
        onward[0] = below.sum(axis=0)
        # A fall after a rise is a turn; mirrored, it is a rise again.
        onward[1:] = above[:-1, ::-1]
        left = onward
    return total


def test_alternation_by_a_second_method() -> None:
    """Fourteen tests up and down in turn: the simulation agrees with the carried law of the last value."""
    exact = alternating_by_ranks(14)
    assert agrees(simulated_run_length(["fourteen_alternating"], np.random.default_rng(5)), exact)


def test_the_whole_distribution_agrees() -> None:
    """Shares of runs over after 10 to 500 tests, within four standard errors of the chain."""
    exact = rules_run_length_distribution(rule_set("western_electric"))
    found = simulated_run_length(rule_set("western_electric"), np.random.default_rng(4))
    for tests in (8, 40, 100, 300):
        error = math.sqrt(exact.within(tests) * (1.0 - exact.within(tests)) / 4000)
        assert found.within(tests) == pytest.approx(exact.within(tests), abs=4 * error)


@pytest.mark.parametrize("phi", [0.4, 0.9, -0.5])
def test_autocorrelated_tests(phi: float) -> None:
    """The limit rule on autoregressive tests agrees with its integral equation."""
    exact = individuals_alarm_rate_ar1(phi, 2.5).average_run_length
    found = simulated_run_length(["beyond_limit"], np.random.default_rng(6), width=2.5, phi=phi)
    assert agrees(found, exact)


def test_runs_given_up_are_counted_on() -> None:
    """Runs cut off at 300 of about 370 or 10 000 tests still tell the mean."""
    random = np.random.default_rng(7)
    assert agrees(simulated_run_length(["beyond_limit"], random, longest=300), 370.398)
    far = simulated_run_length(["beyond_limit"], random, scale=1.3, runs=8000)
    assert far.mean == pytest.approx(
        rules_run_length(["beyond_limit"], width=3.9), abs=4 * far.standard_error
    )
    assert simulated_run_length(["beyond_limit"], random, width=7.0, runs=200, longest=100).mean > 1e4


def test_ewma_of_independent_and_of_autocorrelated_tests() -> None:
    """Independent tests agree with the equation; noise alone is independent whatever phi is."""
    random = np.random.default_rng(8)
    assert agrees(simulated_ewma_run_length(0.2, 2.5, random), ewma_run_length(0.2, 2.5))
    assert agrees(
        simulated_ewma_run_length(0.1, 2.814, random, shift=1.0), ewma_run_length(0.1, 2.814, shift=1.0)
    )
    noise = simulated_ewma_run_length(0.2, 2.5, random, phi=0.9, signal_share=0.0)
    assert agrees(noise, ewma_run_length(0.2, 2.5))
    # Weight 1 is an individuals chart.
    alone = simulated_ewma_run_length(1.0, 2.5, random, phi=0.6)
    assert agrees(alone, individuals_alarm_rate_ar1(0.6, 2.5).average_run_length)


def test_impossible_settings_are_refused() -> None:
    """Every setting out of range is named at once."""
    random = np.random.default_rng(1)
    with pytest.raises(InputError) as caught:
        simulated_run_length([], random, phi=1.0, scale=0.0, width=0.0, runs=1)
    assert [problem.where for problem in caught.value.problems] == [
        "rules", "phi", "scale", "width", "simulation",
    ]  # fmt: skip
    with pytest.raises(InputError, match="signal share"):
        simulated_ewma_run_length(0.0, 2.5, random, signal_share=1.2)
