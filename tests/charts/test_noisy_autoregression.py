"""The autoregression seen through noise, against the full likelihood, a Kalman filter and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts import NoisyAutoregression, fit_autoregression, fit_noisy_autoregression
from sandlab.charts.normal import Floats
from sandlab.errors import InputError
from tests.charts.published_data import column
from tests.charts.test_alarm_rate import autoregressive


def noisy(phi: float, share: float, shape: tuple[int, int], seed: int) -> Floats:
    """Autoregressive series of unit variance of which `share` is the signal's, one per row."""
    noise = np.random.default_rng(seed + 1000).standard_normal(shape)
    return np.asarray(math.sqrt(share) * autoregressive(phi, shape, seed) + math.sqrt(1.0 - share) * noise)


def full_likelihood(values: Floats, places: Floats, fit: NoisyAutoregression, **changed: float) -> float:
    """The multivariate normal log-likelihood with the whole covariance matrix written out."""
    settings = {name: getattr(fit, name) for name in ("phi", "signal_share", "mean", "sigma")} | changed
    measured = ~np.isnan(values)
    x, at = values[measured] - settings["mean"], places[measured]
    gaps = np.abs(at[:, None] - at[None, :])
    signal = np.sign(settings["phi"]) ** gaps * np.abs(settings["phi"]) ** gaps
    share = settings["signal_share"]
    covariance = settings["sigma"] ** 2 * (share * signal + (1.0 - share) * np.eye(x.size))
    _, log_determinant = np.linalg.slogdet(covariance)
    squares = float(x @ np.linalg.solve(covariance, x))
    return -0.5 * (x.size * math.log(2 * math.pi) + float(log_determinant) + squares)


def kalman_likelihood(values: Floats, fit: NoisyAutoregression) -> float:
    """The same by prediction errors, slot by slot, a missing test being a prediction without correction."""
    signal, noise = fit.signal_sigma**2, fit.testing_sigma**2
    state, uncertain, total = 0.0, signal, 0.0
    for value in values:
        if not math.isnan(value):
            spread = uncertain + noise
            error = value - fit.mean - state
            total -= 0.5 * (math.log(2 * math.pi * spread) + error**2 / spread)
            state += uncertain / spread * error
            uncertain *= noise / spread
        state *= fit.phi
        uncertain = fit.phi**2 * uncertain + (1.0 - fit.phi**2) * signal
    return total


@pytest.mark.parametrize(("phi", "share", "missing"), [(0.9, 0.6, 0.0), (0.9, 0.6, 0.3), (0.7, 0.4, 0.1)])
def test_fit_is_the_maximum_of_the_full_likelihood(phi: float, share: float, missing: float) -> None:
    """With and without gaps: the covariance written out and a Kalman filter agree, no neighbour is better."""
    values = 40.0 + 2.0 * noisy(phi, share, (1, 150), 4)[0]
    values[np.random.default_rng(1).random(150) < missing] = np.nan
    places = np.arange(150.0)
    fit = fit_noisy_autoregression(values)
    best = full_likelihood(values, places, fit)
    assert fit.log_likelihood == pytest.approx(best, abs=1e-7)
    assert kalman_likelihood(values, fit) == pytest.approx(best, abs=1e-7)
    for name in ("phi", "signal_share", "mean", "sigma"):
        for factor in (0.99, 1.01):
            assert full_likelihood(values, places, fit, **{name: getattr(fit, name) * factor}) < best + 1e-6


def test_uneven_times_need_no_slots() -> None:
    """Nights and weekends missing, tests between slots: the same likelihood with real gaps."""
    values = noisy(0.9, 0.6, (1, 300), 5)[0]
    kept = np.sort(np.random.default_rng(2).choice(300, 150, replace=False))
    slots = np.full(300, np.nan)
    slots[kept] = values[kept]
    by_slot = fit_noisy_autoregression(slots)
    by_place = fit_noisy_autoregression(values[kept], at=kept)
    assert (by_place.phi, by_place.signal_share) == pytest.approx(
        (by_slot.phi, by_slot.signal_share), abs=1e-4
    )
    places = kept * 0.7
    fit = fit_noisy_autoregression(values[kept], at=places)
    assert fit.log_likelihood == pytest.approx(full_likelihood(values[kept], places, fit), abs=1e-7)


def test_without_noise_it_is_the_plain_fit() -> None:
    """A series without noise of testing: phi, level and likelihood of the plain autoregression."""
    values = autoregressive(0.8, (1, 150), 3)[0]
    plain, fit = fit_autoregression(values), fit_noisy_autoregression(values)
    assert fit.log_likelihood >= plain.log_likelihood - 1e-9
    if fit.signal_share == 1.0:
        assert (fit.phi, fit.mean, fit.sigma) == pytest.approx((plain.phi, plain.mean, plain.sigma), abs=1e-4)
    assert not fit.noise_significant
    assert "does not show" in fit.sentence
    level = fit_noisy_autoregression(column("lake_huron_level.csv", "x"))
    assert level.log_likelihood - level.gain == pytest.approx(-106.6, abs=0.05)


def test_intervals_cover_as_often_as_stated() -> None:
    """40 simulated series of 200 tests: the 95 % intervals hold phi and share in 34 or more of them."""
    fits = [fit_noisy_autoregression(values) for values in noisy(0.85, 0.6, (40, 200), 9)]
    assert sum(fit.phi_low <= 0.85 <= fit.phi_high for fit in fits) >= 34
    assert sum(fit.share_low <= 0.6 <= fit.share_high for fit in fits) >= 34
    # An interval that holds everything would cover too: half of them exclude 0.9 from the share.
    assert sum(fit.share_high < 0.9 for fit in fits) >= 20


def test_noise_is_found_no_oftener_than_stated() -> None:
    """40 series without noise of testing: called noisy in 5 %, that is 0 to 7 times."""
    fits = [fit_noisy_autoregression(values) for values in autoregressive(0.7, (40, 120), 17)]
    assert sum(fit.noise_significant for fit in fits) <= 7


def test_words() -> None:
    """Signal and noise in words; independent and alternating tests say nothing of either."""
    fit = fit_noisy_autoregression(noisy(0.9, 0.6, (1, 800), 6)[0])
    assert fit.lag1 == pytest.approx(fit.phi * fit.signal_share)
    assert fit.signal_sigma**2 + fit.testing_sigma**2 == pytest.approx(fit.sigma**2)
    share = f"{100 * (1 - fit.signal_share):.0f} % ({100 * (1 - fit.share_high):.0f} to"
    assert fit.sentence.startswith(f"About {100 * fit.phi:.0f} % of a departure of the sand is still there")
    assert share in fit.sentence
    assert "look independent" in fit_noisy_autoregression(autoregressive(0.0, (1, 100), 2)[0]).sentence
    assert "swing against" in fit_noisy_autoregression(autoregressive(-0.6, (1, 100), 2)[0]).sentence


@pytest.mark.parametrize("values", [[1.0, 2.0, 3.0], [5.0] * 20, [np.nan] * 20, [np.inf] * 20])
def test_impossible_input_is_refused(values: list[float]) -> None:
    """Too few, equal, missing or infinite values: a message, never a NaN."""
    with pytest.raises(InputError):
        fit_noisy_autoregression(values)


@pytest.mark.parametrize(
    "values", [np.arange(30.0), [1.0, -1.0] * 15, [0.0] * 15 + [1.0] * 15, [0.0] * 29 + [1.0]]
)
def test_extreme_series_give_finite_figures(values: list[float]) -> None:
    """Straight lines, perfect alternation and single jumps stay within the bounds and finite."""
    fit = fit_noisy_autoregression(values)
    assert -1.0 < fit.phi_low <= fit.phi <= fit.phi_high < 1.0
    assert 0.0 <= fit.share_low <= fit.signal_share <= fit.share_high <= 1.0
    assert all(math.isfinite(x) for x in (fit.mean, fit.sigma, fit.log_likelihood, fit.gain, fit.dependence))
