"""Limits of a fit whose results err together."""

from __future__ import annotations

import doctest

import numpy as np
import pytest

from sandlab.balance import fit_limits
from sandlab.balance.fit_limits import fit_sds


def test_independent_errors_give_the_textbook_sd() -> None:
    """The mean of n results of sd 1, with a prior of sd 1: 1/sqrt(n + 1).

    Textbook: precision of independent results adds up (from memory).
    """
    random = np.random.default_rng(5)
    residuals = random.standard_normal(900)
    residuals /= np.sqrt(np.mean(residuals**2))
    assert fit_sds(np.ones((900, 1)), residuals, np.arange(900))[0] == pytest.approx(
        1 / np.sqrt(901), rel=0.05
    )


def test_blocks_that_err_together_count_once() -> None:
    """30 blocks of 20 equal errors tell as much as 30 results: the sd is that of a mean of 30."""
    random = np.random.default_rng(6)
    shared = np.repeat(random.standard_normal(30), 20)
    shared /= np.sqrt(np.mean(shared**2))
    found = fit_sds(np.ones((600, 1)), shared, np.repeat(np.arange(30), 20))[0]
    assert found == pytest.approx(1 / np.sqrt(30), rel=0.1)
    assert found > 4.0 / np.sqrt(601)


def test_the_stated_sd_covers_repeated_windows() -> None:
    """Over 200 windows of a slope whose errors are shared by blocks, the fit scatters as was stated.

    A check by simulation: no formula of the module is used for the scatter.
    """
    random = np.random.default_rng(7)
    fits, stated = [], []
    for _ in range(200):
        x = np.repeat(random.standard_normal(24), 15)
        errors = np.repeat(0.7 * random.standard_normal(24), 15) + 0.7 * random.standard_normal(360)
        fits.append(float(x @ errors / (x @ x + 1.0)))
        stated.append(fit_sds(x[:, None], errors - fits[-1] * x, np.repeat(np.arange(24), 15))[0])
    assert np.sqrt(np.mean(np.square(stated))) == pytest.approx(np.std(fits), rel=0.15)


def test_nothing_is_less_sure_than_before() -> None:
    """A value that no residual speaks of keeps its prior; few blocks fall back on the plain sd."""
    jacobian = np.column_stack([np.ones(50), np.zeros(50)])
    found = fit_sds(jacobian, np.ones(50), np.arange(50))
    assert found[1] == 1.0 and found[0] < 0.2
    assert fit_sds(np.ones((9, 1)), np.ones(9), np.zeros(9))[0] == pytest.approx(1 / np.sqrt(10))


def test_the_example_holds() -> None:
    """As written."""
    assert doctest.testmod(fit_limits).failed == 0
