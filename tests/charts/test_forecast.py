"""Forecasts against the conditional law of a many-dimensional normal, by a route that knows no filter."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from sandlab.charts import KnownResemblance, forecast, robust_trend, trend_forecast
from sandlab.errors import InputError


def conditional(
    values: list[float], phi: float, share: float, sigma: float, mean: float, ahead: int
) -> tuple[float, float]:
    """Mean and deviation of the test `ahead` slots after the last, given all measured ones.

    Anderson, An Introduction to Multivariate Statistical Analysis, section 2.5: S_21 S_11^-1 (x - m).
    """
    places = [place for place, one in enumerate(values) if not np.isnan(one)]
    slots = np.array([*places, len(values) - 1 + ahead])
    cov = sigma**2 * share * phi ** np.abs(slots[:, None] - slots[None, :])
    cov = cov + sigma**2 * (1.0 - share) * np.eye(slots.size)
    x = np.array([values[place] for place in places])
    weights = np.linalg.solve(cov[:-1, :-1], cov[:-1, -1])
    return mean + float(weights @ (x - mean)), float(np.sqrt(cov[-1, -1] - weights @ cov[:-1, -1]))


@pytest.mark.parametrize(("phi", "share"), [(0.8, 1.0), (0.8, 0.6), (0.3, 0.5), (-0.4, 1.0), (0.95, 0.2)])
@pytest.mark.parametrize("ahead", [1, 2, 7])
@pytest.mark.parametrize("tail", [[], [np.nan, np.nan]])
def test_forecasts_are_the_conditional_law(phi: float, share: float, ahead: int, tail: list[float]) -> None:
    values = [41.0, 43.5, np.nan, 42.0, 44.0, 44.5, *tail]
    fit = KnownResemblance(phi=phi, mean=42.0, sigma=1.5, count=100, signal_share=share)
    found = forecast(values, fit, [ahead], confidence=0.9)
    level, deviation = conditional(values, phi, share, 1.5, 42.0, ahead)
    assert found.level[0] == pytest.approx(level, abs=1e-12)
    assert found.high[0] - found.level[0] == pytest.approx(norm.ppf(0.95) * deviation, abs=1e-12)


def test_independent_tests_foretell_nothing_but_their_spread() -> None:
    fit = KnownResemblance(phi=0.0, mean=42.0, sigma=2.0, count=100)
    found = forecast([50.0], fit, [1, 5], confidence=0.5)
    assert found.level.tolist() == [42.0, 42.0]
    # Half of a normal law lies within 0.6745 deviations of its middle (normal table, from memory).
    assert (found.high - 42.0).tolist() == pytest.approx([2 * 0.6745] * 2, abs=1e-4)


def test_the_band_of_a_drift_opens_and_holds_what_comes() -> None:
    """Simulated drifts of known slope: of 400 coming tests about nine in ten lie in the band of 90 %."""
    draw = np.random.default_rng(4)
    inside = 0
    for _ in range(400):
        values = 42.0 + 0.1 * np.arange(40) + draw.normal(0.0, 1.0, 40)
        trend = robust_trend(values, np.arange(40.0), phi=0.0)
        found = trend_forecast(trend, 1.0, [8.0])
        inside += found.low[0] <= 42.0 + 0.1 * 47 + draw.normal() <= found.high[0]
    assert 0.86 <= inside / 400 <= 0.95
    widths = [
        float(np.ptp([one.low, one.high])) for one in (trend_forecast(trend, 1.0, [h]) for h in (0, 50))
    ]
    assert widths[1] > widths[0]


def test_impossible_input_is_refused_with_all_problems() -> None:
    fit = KnownResemblance(phi=0.0, mean=42.0, sigma=2.0, count=100)
    with pytest.raises(InputError) as caught:
        forecast([42.0], fit, [-1.0], confidence=1.0)
    assert [one.where for one in caught.value.problems] == ["ahead", "confidence"]
