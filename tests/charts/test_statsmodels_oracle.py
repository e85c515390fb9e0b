"""Autoregressions, normality and spread against statsmodels, where it is installed (extra "oracles")."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest

from sandlab.charts import (
    anderson_darling,
    fit_autoregression,
    fit_noisy_autoregression,
    freeze_subgroups,
    lag1_autocorrelation,
)
from sandlab.charts.normal import Floats
from sandlab.charts.over_correction import autocorrelations
from tests.charts.published_data import column
from tests.charts.ring_calls import rings
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


@pytest.mark.parametrize("law", ["normal", "skew"])
def test_chance_of_normality(law: str) -> None:
    """Anderson-Darling with estimated mean and spread: the same statistic and chance."""
    from statsmodels.stats.diagnostic import normal_ad

    random = np.random.default_rng(3)
    values = random.normal(50.0, 2.0, 80) if law == "normal" else random.gamma(9.0, 1.0, 80)
    statistic, chance = normal_ad(values)
    found = anderson_darling(values)
    assert found.statistic == pytest.approx(statistic * (1 + 0.75 / 80 + 2.25 / 6400), rel=1e-9)
    assert found.chance == pytest.approx(chance, rel=1e-3)


def test_autocorrelations() -> None:
    """Of Lake Huron up to 20 years; theirs divide by all values, ours by the pairs."""
    from statsmodels.tsa.stattools import acf

    values = column("lake_huron_level.csv", "x")
    theirs = acf(values, nlags=20, adjusted=False, fft=False)
    ours, pairs = autocorrelations(values, 20)
    assert ours * pairs / values.size == pytest.approx(theirs, rel=1e-9)
    assert lag1_autocorrelation(values) == pytest.approx(theirs[1], rel=1e-9)


@pytest.mark.parametrize("unequal", [False, True])
def test_spread_inside_and_between_subgroups(unequal: bool) -> None:
    """Analysis of variance of the piston rings: mean squares, and the spread between samples that follows."""
    from statsmodels.regression.linear_model import OLS

    table = rings(unequal=unequal)[:25]
    sizes = np.count_nonzero(~np.isnan(table), axis=1)
    labels = np.repeat(np.arange(25), sizes)
    fit = OLS(table[~np.isnan(table)], (labels[:, None] == np.arange(25)).astype(float)).fit()
    found = freeze_subgroups(table, repeats=True)
    # c4 of 89 to 101 by its series, as the factor of a pooled deviation.
    unbias = 1.0 - 1.0 / (4.0 * fit.df_resid) + 1.0 / (32.0 * fit.df_resid**2)
    assert found.sigma * unbias == pytest.approx(np.sqrt(fit.mse_resid), rel=1e-6)
    assert found.freedom == fit.df_resid
    per_group = (sizes.sum() - (sizes**2).sum() / sizes.sum()) / 24.0
    between = max(0.0, (fit.mse_model - fit.mse_resid) / per_group)
    assert found.sigma_between**2 == pytest.approx(between, rel=1e-6, abs=1e-12)
