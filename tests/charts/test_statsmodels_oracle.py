"""The fitted autoregressions against statsmodels, where it is installed (extra "oracles")."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest

from sandlab.charts import fit_autoregression, fit_noisy_autoregression
from sandlab.charts.normal import Floats
from tests.charts.published_data import column
from tests.charts.test_noisy_autoregression import noisy

pytest.importorskip("statsmodels", reason="statsmodels is not installed: pip install sandlab[oracles]")


def fitted(values: Floats, *, noise: bool) -> Any:
    """statsmodels' state-space fit of an autoregression with a level, with or without noise of testing."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from statsmodels.tsa.statespace.sarimax import SARIMAX

        model = SARIMAX(
            values, order=(1, 0, 0), trend="c", measurement_error=noise, enforce_stationarity=True
        )
        start = model.fit(disp=False, maxiter=500)
        return model.fit(start.params, method="nm", disp=False, maxiter=5000, xtol=1e-10, ftol=1e-12)


@pytest.mark.parametrize("missing", [0.0, 0.2])
def test_plain_autoregression(missing: float) -> None:
    """Lake Huron, with and without missing years: phi, level and likelihood to 5 digits."""
    values = column("lake_huron_level.csv", "x")
    values[np.random.default_rng(1).random(values.size) < missing] = np.nan
    ours, theirs = fit_autoregression(values), fitted(values - 579.0, noise=False)
    constant, phi, variance = theirs.params
    assert ours.log_likelihood == pytest.approx(theirs.llf, abs=1e-5)
    assert ours.phi == pytest.approx(phi, abs=2e-4)
    assert ours.mean == pytest.approx(579.0 + constant / (1.0 - phi), abs=2e-3)
    assert ours.noise_sigma**2 == pytest.approx(variance, rel=1e-3)


@pytest.mark.parametrize("missing", [0.0, 0.2])
def test_autoregression_with_noise(missing: float) -> None:
    """A simulated series seen through noise: the same likelihood, phi and variances."""
    values = noisy(0.85, 0.6, (1, 300), 5)[0]
    values[np.random.default_rng(2).random(values.size) < missing] = np.nan
    ours, theirs = fit_noisy_autoregression(values), fitted(values, noise=True)
    _, phi, measurement, variance = theirs.params
    assert ours.log_likelihood == pytest.approx(theirs.llf, abs=1e-5)
    assert ours.phi == pytest.approx(phi, abs=2e-3)
    assert ours.testing_sigma**2 == pytest.approx(measurement, abs=3e-3)
    assert ours.signal_sigma**2 == pytest.approx(variance / (1.0 - phi**2), abs=1e-2)
