"""T2 on 25 real samples of moulding sand that the registry package pyspc carries (an optional oracle).

Only its data file is read, where it is installed; the package itself is never imported and nothing is copied.
"""

from __future__ import annotations

import csv
from importlib import metadata
from pathlib import Path

import numpy as np
import pytest

from sandlab.charts.decomposition import decompose
from sandlab.charts.multivariate import freeze_multivariate, hotelling
from sandlab.charts.normal import Floats

pytestmark = pytest.mark.oracles

NAMES = ("compactability", "green_strength", "plasticity")


@pytest.fixture(scope="module")
def sand() -> Floats:
    """The samples, in the order of the file."""
    try:
        files = metadata.files("pyspc") or []
    except metadata.PackageNotFoundError:
        pytest.skip("pyspc, which carries the data, is not installed: pip install sandlab[oracles]")
    found = next(file.locate() for file in files if file.name == "hotelling.csv")
    with Path(str(found)).open(encoding="utf-8", newline="") as file:
        return np.array([[float(cell) for cell in row] for row in list(csv.reader(file))[1:]])


def test_samples_entered_twice_are_noticed(sand: Floats) -> None:
    """Samples 8 and 9, and 18 and 19, equal each other in all three properties."""
    assert sand.shape == (25, 3)
    limits = freeze_multivariate(sand, NAMES)
    assert limits.repeated == ((7, 8), (17, 18))
    assert "repeated" in limits.flags


def test_t2_of_the_baseline_is_its_definition(sand: Floats) -> None:
    """Against numpy's covariance and plain inversion; the sum of all T2 is p (m - 1) = 72."""
    chart = hotelling(sand, freeze_multivariate(sand, NAMES), phase="baseline")
    away = sand - sand.mean(axis=0)
    expected = np.einsum("ij,jk,ik->i", away, np.linalg.inv(np.cov(sand, rowvar=False)), away)
    np.testing.assert_allclose(chart.statistic, expected, rtol=1e-9)
    assert chart.statistic.sum() == pytest.approx(72.0)
    assert chart.beyond == ()


def test_nothing_odd_is_seen_in_ordinary_samples(sand: Floats) -> None:
    """The robust covariance keeps all 25, so that its correlations are the plain ones."""
    limits = freeze_multivariate(sand, NAMES, method="robust")
    assert limits.count == 25.0
    covariance = np.array(limits.covariance)
    spread = np.sqrt(np.diag(covariance))
    np.testing.assert_allclose(
        covariance / np.outer(spread, spread), np.corrcoef(sand, rowvar=False), atol=1e-8
    )


def test_a_broken_relation_in_real_sand_is_named(sand: Floats) -> None:
    """Strength falls as compactability rises: both high at once break the relation."""
    limits = freeze_multivariate(sand, NAMES)
    spread = np.sqrt(np.diag(np.array(limits.covariance)))
    row = np.array(limits.centre) + np.array([2.6, 2.6, 0.0]) * spread
    causes = decompose(row, limits, alarm=0.01).causes
    assert causes
    assert {causes[0].property, *causes[0].given} >= {"compactability", "green_strength"}
