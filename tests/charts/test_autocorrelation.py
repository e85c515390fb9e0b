"""The fitted autoregression against a printed fit, the full likelihood, and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts import fit_autoregression
from sandlab.charts.normal import Floats
from sandlab.errors import InputError
from tests.charts.published_data import column
from tests.charts.test_alarm_rate import autoregressive


def full_likelihood(values: Floats, places: Floats, phi: float, mean: float, sigma: float) -> float:
    """The multivariate normal log-likelihood with the whole covariance matrix written out."""
    measured = ~np.isnan(values)
    x, at = values[measured] - mean, places[measured]
    gaps = np.abs(at[:, None] - at[None, :])
    covariance = sigma**2 * np.sign(phi) ** gaps * np.abs(phi) ** gaps
    _, log_determinant = np.linalg.slogdet(covariance)
    squares = float(x @ np.linalg.solve(covariance, x))
    return -0.5 * (x.size * math.log(2 * math.pi) + float(log_determinant) + squares)


def test_lake_huron() -> None:
    """Annual level of Lake Huron 1875-1972: R's arima prints 0.8375 (0.0538), 579.1153 (0.4240), 0.5093.

    The figures, and the log-likelihood of -106.6, are from memory of the printed output.
    That optimiser stops within 1e-4 of the maximum.
    """
    fit = fit_autoregression(column("lake_huron_level.csv", "x"))
    assert fit.phi == pytest.approx(0.8375, abs=1.5e-4)
    assert fit.phi_error == pytest.approx(0.0538, abs=2e-4)
    assert fit.mean == pytest.approx(579.1153, abs=5e-4)
    assert fit.mean_error == pytest.approx(0.4240, abs=3e-3)
    assert fit.noise_sigma**2 == pytest.approx(0.5093, abs=5e-5)
    assert fit.log_likelihood == pytest.approx(-106.6, abs=0.05)


@pytest.mark.parametrize(("phi", "missing"), [(0.7, 0.0), (0.7, 0.3), (-0.5, 0.0), (-0.5, 0.2), (0.95, 0.1)])
def test_fit_is_the_maximum_of_the_full_likelihood(phi: float, missing: float) -> None:
    """With and without gaps: same value as the written-out covariance, and no neighbour is better."""
    values = 40.0 + 2.0 * autoregressive(phi, (1, 120), 3)[0]
    values[np.random.default_rng(1).random(120) < missing] = np.nan
    places = np.arange(120.0)
    fit = fit_autoregression(values)
    best = full_likelihood(values, places, fit.phi, fit.mean, fit.sigma)
    assert fit.log_likelihood == pytest.approx(best, abs=1e-7)
    for factor in (0.99, 1.01):
        assert full_likelihood(values, places, fit.phi * factor, fit.mean, fit.sigma) < best
        assert full_likelihood(values, places, fit.phi, fit.mean * factor, fit.sigma) < best
        assert full_likelihood(values, places, fit.phi, fit.mean, fit.sigma * factor) < best


def test_uneven_times_need_no_slots() -> None:
    """Tests between slots: the same likelihood with real gaps; whole places give the fit by slots."""
    values = autoregressive(0.8, (1, 200), 5)[0]
    kept = np.sort(np.random.default_rng(2).choice(200, 90, replace=False))
    slots = np.full(200, np.nan)
    slots[kept] = values[kept]
    by_slot, by_place = fit_autoregression(slots), fit_autoregression(values[kept], at=kept)
    assert by_place.phi == pytest.approx(by_slot.phi, abs=1e-6)
    places = kept * 0.7
    fit = fit_autoregression(values[kept], at=places)
    assert fit.log_likelihood == pytest.approx(
        full_likelihood(values[kept], places, fit.phi, fit.mean, fit.sigma), abs=1e-7
    )


@pytest.mark.parametrize("phi", [0.0, 0.6])
def test_interval_covers_as_often_as_stated(phi: float) -> None:
    """400 simulated series of 80 tests: the 95 % interval holds the true phi in 92 to 98 %."""
    series = autoregressive(phi, (400, 80), 21)
    fits = [fit_autoregression(values) for values in series]
    assert 368 <= sum(fit.phi_low <= phi <= fit.phi_high for fit in fits) <= 392


def test_words() -> None:
    """Independent, resembling and alternating tests are told apart in words."""
    assert "look independent" in fit_autoregression(autoregressive(0.0, (1, 100), 2)[0]).sentence
    strong = fit_autoregression(autoregressive(0.75, (1, 400), 2)[0])
    assert "still there one test later" in strong.sentence
    assert strong.moving_range_share == pytest.approx(0.5, abs=0.08)
    assert "swing against each other" in fit_autoregression(autoregressive(-0.6, (1, 100), 2)[0]).sentence


@pytest.mark.parametrize(
    ("values", "at"),
    [
        ([1.0, 2.0, 3.0], None),
        ([5.0] * 20, None),
        ([np.nan] * 20, None),
        ([np.inf] * 20, None),
        ([1.0, 2.0] * 5, [1.0] * 10),
        ([1.0, 2.0] * 5, [1.0, 2.0]),
        ([1.0, 2.0] * 5, [*range(9), np.nan]),
    ],
)
def test_impossible_input_is_refused(values: list[float], at: list[float] | None) -> None:
    """Too few, equal, missing or infinite values, places that do not ascend: a message, never a NaN."""
    with pytest.raises(InputError):
        fit_autoregression(values, at=at)


@pytest.mark.parametrize(
    "values", [np.arange(30.0), [1.0, -1.0] * 15, [0.0] * 15 + [1.0] * 15, [0.0] * 29 + [1.0]]
)
def test_extreme_series_give_finite_figures(values: list[float]) -> None:
    """Straight lines, perfect alternation and single jumps stay within the bounds and finite."""
    fit = fit_autoregression(values)
    assert -1.0 < fit.phi_low <= fit.phi <= fit.phi_high < 1.0
    assert all(
        math.isfinite(x) for x in (fit.phi_error, fit.mean, fit.mean_error, fit.sigma, fit.log_likelihood)
    )
