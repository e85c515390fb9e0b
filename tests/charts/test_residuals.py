"""Residual chart, widened limits and EWMA of tests that resemble each other: definitions and false alarms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts import (
    KnownResemblance,
    autocorrelated_ewma,
    ewma,
    individuals,
    individuals_alarm_rate_ar1,
    lag1_autocorrelation,
    residual_chart,
    residuals,
    simulated_ewma_run_length,
    widened_limits,
)
from sandlab.charts.baseline import Limits
from sandlab.charts.residuals import Fit
from sandlab.errors import InputError
from tests.charts.test_alarm_rate import autoregressive
from tests.charts.test_noisy_autoregression import noisy


def plain(phi: float, mean: float = 0.0, sigma: float = 1.0) -> KnownResemblance:
    """An autoregression without noise of testing."""
    return KnownResemblance(phi, mean, sigma, 500)


def seen_through_noise(phi: float, share: float) -> KnownResemblance:
    """An autoregression with noise of testing."""
    return KnownResemblance(phi, 0.0, 1.0, 500, signal_share=share)


@pytest.mark.parametrize("fit", [plain(0.7), plain(-0.4), seen_through_noise(0.9, 0.6)])
def test_residuals_whiten_the_covariance(fit: Fit) -> None:
    """With missing tests: their squares sum to the full quadratic form, and each has its place."""
    values = autoregressive(0.5, (1, 60), 3)[0]
    values[[4, 5, 30]] = np.nan
    measured = ~np.isnan(values)
    places = np.flatnonzero(measured)
    gaps = np.abs(places[:, None] - places[None, :])
    signal = np.sign(fit.phi) ** gaps * np.abs(fit.phi) ** gaps
    covariance = fit.signal_share * signal + (1.0 - fit.signal_share) * np.eye(places.size)
    found, predicted = residuals(values, fit)
    assert np.array_equal(np.isnan(found), ~measured)
    # The triangular factor of the covariance gives the same residuals one by one.
    np.testing.assert_allclose(
        found[measured], np.linalg.solve(np.linalg.cholesky(covariance), values[measured]), atol=1e-10
    )
    assert predicted[places[1]] == pytest.approx(fit.mean + fit.signal_share * fit.phi * values[0])


def test_residuals_of_a_true_fit_are_independent() -> None:
    """20 000 tests with noise: mean 0, deviation 1, no autocorrelation."""
    found, _ = residuals(noisy(0.9, 0.6, (1, 20_000), 7)[0], seen_through_noise(0.9, 0.6))
    assert found.mean() == pytest.approx(0.0, abs=4 / math.sqrt(20_000))
    assert found.std() == pytest.approx(1.0, abs=4 / math.sqrt(40_000))
    assert lag1_autocorrelation(found) == pytest.approx(0.0, abs=4 / math.sqrt(20_000))


def test_a_lasting_shift_in_residuals() -> None:
    """In full at its first test, then as 1 - phi of it, which the average gathers (derived)."""
    values = np.zeros(40)
    values[20:] = 2.0
    chart = residual_chart(values, plain(0.6))
    step = 2.0 / math.sqrt(1.0 - 0.36)
    assert chart.residuals[20] == pytest.approx(step)
    assert chart.residuals[21:].tolist() == pytest.approx([0.4 * step] * 19)
    assert chart.single.latest_alarm is None
    assert chart.average.beyond[0] > 20
    assert 39 in chart.average.beyond


def test_a_single_odd_test_is_an_alarm_in_words() -> None:
    """The reason speaks of deviations of prediction."""
    chart = residual_chart([0.0, 0.1, 4.0], plain(0.6))
    assert chart.single.state == "signal"
    assert "deviations is above the upper control limit 3.00 deviations" in chart.single.sentence


@pytest.mark.parametrize(("phi", "run_length"), [(0.5, 370.4), (0.9, 370.4), (-0.4, 200.0), (0.0, 1000.0)])
def test_widened_limits_have_the_wanted_run_length(phi: float, run_length: float) -> None:
    """The width found gives the run length by the integral equation; moving ranges would be narrower."""
    limits = widened_limits(plain(phi, 40.0, 2.0), run_length=run_length)
    assert individuals_alarm_rate_ar1(phi, limits.width).average_run_length == pytest.approx(run_length)
    assert limits.upper == pytest.approx(40.0 + 2.0 * limits.width)
    assert limits.sigma_moving_range == pytest.approx(2.0 * math.sqrt(1.0 - phi))
    assert individuals([40.0, 41.0], None, limits).state == "in control"


@pytest.mark.parametrize(("phi", "share"), [(0.6, 0.5), (0.9, 0.6), (0.98, 0.8), (-0.5, 0.5)])
def test_widened_limits_under_noise_by_simulation(phi: float, share: float) -> None:
    """Signal and noise: the wanted run length within four errors of 6000 simulated runs."""
    width = widened_limits(seen_through_noise(phi, share), run_length=100.0).width
    random = np.random.default_rng(3)
    found = simulated_ewma_run_length(1.0, width, random, phi=phi, signal_share=share, runs=6000)
    assert found.mean == pytest.approx(100.0, abs=4 * found.standard_error)


def double_sum(weight: float, fit: Fit, places: list[int]) -> float:
    """Variance of the average by every pair of tests, an independent definition."""
    weights = [weight * (1.0 - weight) ** back for back in range(len(places))][::-1]
    total = 0.0
    for i, one in enumerate(places):
        for j, other in enumerate(places):
            gap = abs(one - other)
            both = 1.0 if i == j else fit.signal_share * fit.phi**gap
            total += weights[i] * weights[j] * both
    return total


@pytest.mark.parametrize("fit", [plain(0.7), plain(-0.4), seen_through_noise(0.9, 0.6)])
def test_limits_of_the_average_by_the_double_sum(fit: Fit) -> None:
    """From the first test on, across a gap: width times the root of the variance written out."""
    values = np.zeros(12)
    values[[3, 4, 8]] = np.nan
    chart = autocorrelated_ewma(values, fit, weight=0.3, width=2.5)
    places = np.flatnonzero(~np.isnan(values)).tolist()
    for count in range(1, len(places) + 1):
        expected = 2.5 * math.sqrt(double_sum(0.3, fit, places[:count]))
        assert chart.upper[places[count - 1]] == pytest.approx(fit.mean + expected)
    assert chart.upper[3] == chart.upper[2]


def test_limits_of_the_average_in_the_long_run() -> None:
    """w/(2 - w) (1 + phi (1 - w))/(1 - phi (1 - w)) for an autoregression (Zhang 1998, from memory)."""
    chart = autocorrelated_ewma(np.zeros(400), plain(0.7), weight=0.2, width=1.0)
    assert chart.upper[-1] ** 2 == pytest.approx(0.2 / 1.8 * (1 + 0.7 * 0.8) / (1 - 0.7 * 0.8))
    independent = autocorrelated_ewma([0.5, -0.2, 0.4], plain(0.0))
    usual = ewma([0.5, -0.2, 0.4], Limits(0.0, 1.0, 99, 1.0, 1.0, 0.0))
    np.testing.assert_allclose(independent.upper, usual.upper)
    np.testing.assert_allclose(independent.average, usual.average)


def test_share_of_the_average_beyond_its_limits() -> None:
    """100 000 tests with phi 0.8: the share beyond is the normal one (0.0124 at 2.5), within 5 errors."""
    beyond = [
        len(autocorrelated_ewma(values, plain(0.8), weight=0.2, width=2.5).beyond)
        for values in autoregressive(0.8, (100, 1000), 5)
    ]
    expected = math.erfc(2.5 / math.sqrt(2.0))
    error = float(np.std(beyond)) / 1000.0 / 10.0
    assert np.mean(beyond) / 1000.0 == pytest.approx(expected, abs=5 * error)


def test_missing_tests_and_bad_settings() -> None:
    """Nothing measured gives no residuals; settings out of range are named at once."""
    assert np.isnan(residuals([np.nan, np.nan], plain(0.5))[0]).all()
    assert residual_chart([np.nan], plain(0.5)).single.state == "too few"
    assert autocorrelated_ewma([np.nan], plain(0.5)).beyond == ()
    with pytest.raises(InputError, match="infinite"):
        residuals([np.inf], plain(0.5))
    with pytest.raises(InputError) as caught:
        autocorrelated_ewma([1.0], plain(0.5), weight=0.0, width=0.0)
    assert [problem.where for problem in caught.value.problems] == ["weight", "width"]
    with pytest.raises(InputError, match="run length"):
        widened_limits(plain(0.5), run_length=1.0)
