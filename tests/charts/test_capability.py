"""Capability indices, their intervals, normality and quantiles: against scipy and simulation."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from scipy import stats

from sandlab.charts.capability import capability
from sandlab.charts.indices import capability_indices, cp_interval
from sandlab.charts.normality import anderson_darling, johnson_quantiles
from sandlab.errors import InputError
from tests.charts.test_phase_one import related


@pytest.mark.parametrize("phi", [0.0, 0.5])
def test_intervals_cover_as_often_as_stated(phi: float) -> None:
    """600 simulated properties, true Pp 1.25, Ppk 1 and Cpm 1: 95 % intervals hold them in 92 to 98 %."""
    random = np.random.default_rng(3)
    inside = np.zeros(3)
    for _ in range(600):
        found = capability(related(phi, 120, random) + 0.75, lower=-3.75, upper=3.75)
        true = (1.25, 1.0, 1.0)
        for place, (index, value) in enumerate(zip((found.pp, found.ppk, found.cpm), true, strict=True)):
            assert index is not None
            inside[place] += index.low <= value <= index.high
    assert (inside / 600 > 0.92).all()
    assert (inside / 600 < 0.98).all()


def test_short_term_interval_by_simulation() -> None:
    """Cp from moving ranges: with their effective degrees of freedom 95 % intervals hold the truth."""
    random = np.random.default_rng(4)
    inside = 0
    for _ in range(600):
        found = capability(random.normal(size=60), lower=-4.0, upper=4.0).cp
        assert found is not None
        inside += found.low <= 4.0 / 3.0 <= found.high
    assert 0.93 < inside / 600 < 0.975


def test_one_sided_tolerance() -> None:
    """Only one side: no Cp, Pp or Cpm; Cpk is that side's index."""
    values = np.random.default_rng(5).normal(3.0, 0.3, 80)
    found = capability(values, upper=4.5)
    assert (found.cp, found.pp, found.cpm, found.quantile_pp) == (None, None, None, None)
    assert found.ppk.value == pytest.approx((4.5 - values.mean()) / (3 * values.std(ddof=1)))
    assert capability(values, lower=1.0, target=2.0).cpm is None
    assert capability_indices(3.0, 0.5, lower=1.5).cpk == pytest.approx(1.0)


def test_a_mean_of_readings_on_the_tolerance_is_inside_it() -> None:
    """Derived: 2 of 20 beyond; those on a limit but for the last binary digit count as the others on it."""
    values = np.array(
        [38.0, 37.99999999999999, 46.00000000000001, 46.0, 37.9, 46.1, *np.linspace(40, 44, 14)]
    )
    assert capability(values, lower=38.0, upper=46.0).outside == pytest.approx(2 / 20)


def test_autocorrelation_is_allowed_for_and_said() -> None:
    """phi 0.6: fewer effective tests, Cp above Pp by 1/sqrt(1 - phi), and a warning."""
    values = related(0.6, 2000, np.random.default_rng(6))
    found = capability(values, lower=-4.0, upper=4.0)
    assert "autocorrelated" in found.flags
    assert found.phi == pytest.approx(0.6, abs=0.06)
    assert found.effective_mean == pytest.approx(2000 * 0.4 / 1.6, rel=0.15)
    assert found.cp is not None
    assert found.pp is not None
    assert found.cp.value / found.pp.value == pytest.approx(1 / math.sqrt(0.4), rel=0.05)
    assert "too good" in found.sentence


def test_skewed_tests_are_judged_by_quantiles() -> None:
    """Lognormal tests, upper tolerance at their 99.865 % point: truly 1, the normal index says far more."""
    law = stats.lognorm(0.5, scale=2.0)
    values = law.rvs(400, random_state=np.random.default_rng(7))
    found = capability(values, upper=float(law.ppf(0.99865)))
    assert found.flags == ("not normal", "misleading")
    assert found.ppk.value > 1.3
    assert found.quantile_ppk == pytest.approx(1.0, rel=0.3)
    assert "by quantiles" in found.sentence


def test_normal_tests_are_seldom_called_misleading() -> None:
    """At most 2 % of 300 normal, half of them autocorrelated series."""
    random = np.random.default_rng(8)
    called = sum(
        "misleading" in capability(related(phi, 150, random), lower=-4.0, upper=4.0).flags
        for phi in (0.0, 0.6)
        for _ in range(150)
    )
    assert called <= 6


def test_a_shift_within_the_tests_is_said() -> None:
    """Two levels in one window describe no one state."""
    values = np.random.default_rng(9).normal(size=120)
    values[60:] += 2.0
    assert "shifted" in capability(values, lower=-4.0, upper=6.0).flags


@pytest.mark.parametrize("law", [stats.norm(), stats.gamma(3), stats.t(4), stats.uniform()])
def test_normality_statistic_is_scipys(law: stats.rv_continuous) -> None:
    """Against scipy's Anderson-Darling statistic, corrected for size; a missing test is left out."""
    values = law.rvs(60, random_state=np.random.default_rng(10))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FutureWarning)
        expected = stats.anderson(values).statistic * (1 + 0.75 / 60 + 2.25 / 3600)
    holed = np.insert(values, 5, np.nan)
    found = anderson_darling(holed)
    assert found.statistic == pytest.approx(expected, rel=1e-9)
    assert found.count == 60
    assert found.chance == pytest.approx(anderson_darling(values).chance)


@pytest.mark.parametrize("phi", [0.0, 0.7])
def test_chance_of_normality_by_simulation(phi: float) -> None:
    """A twentieth of 2000 normal series has a chance below .05, fewer when autocorrelated."""
    random = np.random.default_rng(11)
    below = np.mean([anderson_darling(related(phi, 60, random), phi=phi).chance < 0.05 for _ in range(1000)])
    assert below < 0.05 + 4 * math.sqrt(0.05 * 0.95 / 1000)
    if phi == 0.0:
        assert below > 0.05 - 4 * math.sqrt(0.05 * 0.95 / 1000)


@pytest.mark.parametrize("law", [
    stats.johnsonsu(1.0, 1.5, 2.0, 3.0), stats.johnsonsb(0.8, 1.2, 2.0, 3.0), stats.lognorm(0.4),
    stats.norm(42.0, 1.5),
])  # fmt: skip
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_johnson_curves_are_recovered(law: stats.rv_continuous, sign: float) -> None:
    """From the exact quantiles of a Johnson law (scipy), upright and mirrored, its outer ones come back."""
    values = sign * law.ppf((np.arange(50_000) + 0.5) / 50_000)
    found = johnson_quantiles(values)
    assert found is not None
    expected = np.sort(sign * law.ppf(stats.norm.cdf([-3.0, 0.0, 3.0])))
    width = expected[2] - expected[0]
    np.testing.assert_allclose([found.low, found.median, found.high], expected, atol=2e-3 * width)


def test_coarse_readings_may_leave_no_curve() -> None:
    """Half of the readings equal: no quantile indices, and no fault."""
    values = np.array([3.0] * 60 + [2.0, 4.0] * 20)
    assert johnson_quantiles(values) is None
    found = capability(values, lower=0.0, upper=6.0)
    assert (found.quantile_pp, found.quantile_ppk) == (None, None)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_curve_that_the_tests_contradict_is_none(sign: float) -> None:
    """Even tests, and 8 of 608 far beyond its 0.135 % point, where 0.8 are to be expected (binomial law)."""
    values = sign * np.concatenate([np.linspace(0.0, 1.0, 600), np.full(8, -0.5)])
    assert johnson_quantiles(values[:600]) is not None
    assert johnson_quantiles(values) is None
    found = capability(values, lower=-2.0, upper=2.0)
    assert (found.quantile_pp, found.quantile_ppk) == (None, None)


def test_share_outside_is_counted() -> None:
    """Tests beyond either tolerance, the tolerance itself being inside."""
    found = capability([1.0, 2.0, 3.0, 4.0, 5.0] * 4, lower=2.0, upper=4.0)
    assert found.outside == pytest.approx(0.4)


def test_impossible_input_is_refused() -> None:
    """Tolerances upside down, too few or equal tests, settings out of range: every problem at once."""
    good = np.random.default_rng(12).normal(size=40)
    with pytest.raises(InputError) as caught:
        capability([1.0], lower=5.0, upper=2.0, confidence=1.0, within=(0.0, 3.0))
    where = [problem.where for problem in caught.value.problems]
    assert where == ["tolerance", "values", "spread within", "confidence"]
    for settings, message in (
        ({}, "none given"),
        ({"lower": math.inf}, "lower tolerance: inf"),
        ({"lower": 1.0, "upper": 1.0}, "not below"),
        ({"lower": -1.0, "upper": 1.0, "target": 3.0}, "outside the tolerance"),
        ({"upper": math.nan}, "nan"),
    ):
        with pytest.raises(InputError, match=message):
            capability(good, **settings)
    for bad in ([2.0] * 20, [np.nan] * 20, [1.0, np.nan] * 20, [*good, np.inf]):
        with pytest.raises(InputError):
            capability(bad, upper=3.0)
    for bad in ([1.0] * 9, [1.0, 2.0], [np.nan] * 9):
        with pytest.raises(InputError):
            anderson_darling(bad)
    with pytest.raises(InputError, match="phi"):
        anderson_darling(good, phi=1.0)
    with pytest.raises(InputError, match="50 or more"):
        johnson_quantiles(good)
    with pytest.raises(InputError, match="spread"):
        capability_indices(1.0, 0.0, upper=3.0)


def test_means_far_from_their_target_stay_finite() -> None:
    """A mean a hundred powers of ten from its target: an index of next to nothing, with an interval."""
    values = 1e95 * (1.0 + 1e-12 * np.random.default_rng(13).normal(size=30))
    found = capability(values, lower=-1.0, upper=1.0).cpm
    assert found is not None
    assert 0.0 <= found.low <= found.value <= found.high


def test_interval_is_scipys_chi_square() -> None:
    """Ends of Cp's interval by scipy's chi-square law."""
    found = cp_interval(1.5, 24.0, 0.9)
    low, high = stats.chi2(24).ppf([0.05, 0.95])
    assert (found.low, found.high) == pytest.approx((1.5 * math.sqrt(low / 24), 1.5 * math.sqrt(high / 24)))
