"""T2 charts and their covariances, against definitions, scipy's laws and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from sandlab.charts.covariance import repeated_samples, sample_scatter, shrunk_scatter
from sandlab.charts.multivariate import Method, MultivariateLimits, freeze_multivariate, hotelling
from sandlab.charts.normal import Floats
from sandlab.charts.robust_covariance import robust_scatter
from sandlab.errors import InputError

NAMES = ("compactability", "moisture", "strength", "permeability")
# Spread and relations of an hourly set: moisture rises with compactability, strength falls.
TRUE = np.array(
    [[4.0, 0.16, -6.0, 2.0], [0.16, 0.01, -0.2, 0.1], [-6.0, -0.2, 36.0, -8.0], [2.0, 0.1, -8.0, 64.0]]
)
CENTRE = np.array([40.0, 3.2, 140.0, 110.0])
METHODS: tuple[Method, ...] = ("sample", "differences", "robust", "shrunk")


def samples(count: int, seed: int, holes: float = 0.0) -> Floats:
    """Samples of the four properties, a share of the tests missing."""
    random = np.random.default_rng(seed)
    values = CENTRE + random.normal(size=(count, 4)) @ np.linalg.cholesky(TRUE).T
    values[random.random(values.shape) < holes] = np.nan
    return values


def test_t2_equals_its_definition_with_missing_tests() -> None:
    """d' S^-1 d over what was measured, by plain inversion; the chance by scipy's F law."""
    limits = freeze_multivariate(samples(50, 1), NAMES)
    rows = samples(200, 2, holes=0.3)
    rows[7] = np.nan
    chart = hotelling(rows, limits)
    covariance = np.array(limits.covariance)
    for place, row in enumerate(rows):
        seen = ~np.isnan(row)
        p = int(seen.sum())
        assert chart.components[place] == p
        if p == 0:
            assert np.isnan(chart.statistic[place])
            continue
        away = (row - np.array(limits.centre))[seen]
        expected = away @ np.linalg.inv(covariance[np.ix_(seen, seen)]) @ away
        assert chart.statistic[place] == pytest.approx(expected, rel=1e-9)
        factor = p * 51 * 49 / (50 * (50 - p))
        assert chart.chance[place] == pytest.approx(stats.f.sf(expected / factor, p, 50 - p), rel=1e-9)
    assert chart.depth_limit == pytest.approx(-np.log10(0.0027))
    assert 7 not in chart.beyond


def test_own_samples_of_a_baseline_follow_the_beta_law() -> None:
    """Phase I, by scipy's beta law; the bound (m - 1)^2/m is never passed."""
    rows = samples(30, 3)
    chart = hotelling(rows, freeze_multivariate(rows, NAMES), phase="baseline")
    law = stats.beta(2.0, (30 - 4 - 1) / 2)
    np.testing.assert_allclose(chart.chance, law.sf(chart.statistic * 30 / 29**2), rtol=1e-9)
    assert chart.statistic.sum() == pytest.approx(4 * 29)


@pytest.mark.parametrize(
    ("method", "holes", "most"),
    [("sample", 0.0, 0.0035), ("sample", 0.1, 0.0045), ("differences", 0.0, 0.0035), ("robust", 0.0, 0.0050),
     ("shrunk", 0.0, 0.0027)],
)  # fmt: skip
def test_false_alarms_by_simulation(method: Method, holes: float, most: float) -> None:
    """120 baselines of 60, 1000 later samples each with a fifth of the tests missing: at .0027 asked."""
    alarms = 0
    for seed in range(120):
        limits = freeze_multivariate(samples(60, seed, holes), NAMES, method=method)
        alarms += len(hotelling(samples(1000, 10_000 + seed, holes=0.2), limits).beyond)
    assert 0.0002 < alarms / 120_000 < most


def test_plain_covariance_is_numpys() -> None:
    """Mean and covariance of complete samples."""
    rows = samples(40, 5)
    found = sample_scatter(rows)
    np.testing.assert_allclose(found.covariance, np.cov(rows, rowvar=False), rtol=1e-9)
    assert found.exact


def test_holes_are_filled_by_their_relations() -> None:
    """Expectation and maximisation: at its end the likelihood of what was measured has no slope."""
    rows = samples(60, 6, holes=0.15)
    found = sample_scatter(rows)
    maximum = found.covariance * (found.count - 1) / found.count

    def log_likelihood(centre: Floats, covariance: Floats) -> float:
        total = 0.0
        for row in rows:
            seen = ~np.isnan(row)
            if seen.any():
                law = stats.multivariate_normal(centre[seen], covariance[np.ix_(seen, seen)])
                total += float(law.logpdf(row[seen]))
        return total

    best = log_likelihood(found.centre, maximum)
    spread = np.sqrt(np.diag(maximum))
    for i in range(4):
        for sign in (-1.0, 1.0):
            moved = found.centre.copy()
            moved[i] += sign * 0.01 * spread[i]
            assert log_likelihood(moved, maximum) < best
            for j in range(4):
                changed = maximum.copy()
                changed[i, j] += sign * 0.01 * spread[i] * spread[j] * (1.0 if i == j else 0.5)
                changed[j, i] = changed[i, j]
                assert log_likelihood(found.centre, changed) < best


def test_robust_covariance_ignores_a_fifth_of_odd_samples() -> None:
    """A fifth of the baseline broken in one relation: robust T2 still finds them, the plain one does not."""
    rows = samples(80, 7)
    rows[:16, 1] += 0.45
    odd = hotelling(rows[:16], freeze_multivariate(rows, NAMES, method="robust"))
    assert len(odd.beyond) == 16
    assert len(hotelling(rows[:16], freeze_multivariate(rows, NAMES)).beyond) < 4
    clean = robust_scatter(samples(4000, 8)).covariance
    np.testing.assert_allclose(clean / np.sqrt(np.outer(np.diag(TRUE), np.diag(TRUE))),
                               TRUE / np.sqrt(np.outer(np.diag(TRUE), np.diag(TRUE))), atol=0.08)  # fmt: skip


def test_robust_covariance_has_no_chance_in_it() -> None:
    """Another order and other units give the same answer."""
    rows = samples(60, 9)
    units = np.array([0.1, 1000.0, 1.0, 6.9])
    found, other = robust_scatter(rows), robust_scatter(rows[::-1] * units)
    np.testing.assert_allclose(other.covariance, found.covariance * np.outer(units, units), rtol=1e-6)
    assert other.count == found.count


def test_shift_within_the_baseline_hardly_enters_successive_differences() -> None:
    """Half the baseline moved by six sigmas of one property: its variance stays within a half."""
    rows = samples(100, 10)
    rows[50:, 0] += 12.0
    differences = freeze_multivariate(rows, NAMES, method="differences").covariance[0][0]
    assert differences == pytest.approx(4.0, rel=0.5)
    assert freeze_multivariate(rows, NAMES).covariance[0][0] > 30.0


def test_shrinkage_draws_chance_relations_to_none() -> None:
    """Ten samples of eight unrelated properties: smaller correlations, the same variances, no singularity."""
    rows = np.random.default_rng(11).normal(size=(10, 8))
    found = shrunk_scatter(rows).covariance
    plain = np.cov(rows, rowvar=False)
    np.testing.assert_allclose(np.diag(found), np.diag(plain), rtol=1e-9)
    assert np.abs(found - np.diag(np.diag(found))).sum() < 0.5 * np.abs(plain - np.diag(np.diag(plain))).sum()
    assert np.linalg.eigvalsh(found)[0] > 0.0
    strong = samples(400, 12)
    np.testing.assert_allclose(shrunk_scatter(strong).covariance, np.cov(strong, rowvar=False), rtol=0.1)


def test_repeated_samples_are_named() -> None:
    """Complete samples that equal each other are listed and flagged; one with a hole equals none."""
    rows = samples(60, 13)
    rows[[20, 40]], rows[[8, 9]] = rows[5], rows[30]
    rows[9, 2] = np.nan
    limits = freeze_multivariate(rows, NAMES)
    assert limits.repeated == ((5, 20, 40), (8, 30))
    assert "repeated" in limits.flags
    assert repeated_samples(samples(10, 14)) == ()


def test_exclusion_equals_leaving_out() -> None:
    """Excluded samples have no part in the limits and leave them exact."""
    rows = samples(60, 15)
    limits = freeze_multivariate(rows, NAMES, excluded=[4, 9])
    np.testing.assert_allclose(limits.covariance, np.cov(np.delete(rows, [4, 9], axis=0), rowvar=False))
    assert (limits.count, limits.excluded, limits.flags) == (58, (4, 9), ())


def test_flags_say_what_limits_rest_on() -> None:
    """Few samples, holes, a robust covariance that had to be shrunk."""
    assert freeze_multivariate(samples(20, 16), NAMES).flags == ("few",)
    assert freeze_multivariate(samples(60, 17, holes=0.1), NAMES).flags == ("holes", "approximate")
    shrunk = freeze_multivariate(samples(15, 18), NAMES, method="robust")
    assert shrunk.method == "shrunk"
    assert shrunk.flags == ("few", "shrunk", "approximate")


def test_huge_distances_stay_finite() -> None:
    """A mistyped value gives a deep but finite depth."""
    limits = freeze_multivariate(samples(400, 19), NAMES)
    chart = hotelling([[4e6, 3.2, 140.0, 110.0]], limits)
    assert chart.depth[0] == 300.0
    assert chart.beyond == (0,)


def test_robust_covariance_of_coarse_and_half_equal_samples() -> None:
    """Three in four samples equal, or a property constant where all are measured: an answer without NaN."""
    rows = np.round(samples(40, 24), 1)
    rows[:30] = rows[0]
    limits = freeze_multivariate(rows, NAMES, method="robust")
    assert np.isfinite(hotelling(samples(20, 25), limits).depth).all()
    rows = samples(60, 26)
    rows[:30, 2] = np.nan
    rows[30:, 1] = 3.2
    assert freeze_multivariate(rows, NAMES, method="robust").method == "shrunk"


def test_two_columns_that_say_the_same_are_named_in_spite_of_holes_and_outliers() -> None:
    """Equal columns with missing tests, or with values a million times the spread, are refused by name."""
    rows = samples(60, 22, holes=0.05)
    rows[:, 1] = rows[:, 0]
    with pytest.raises(InputError, match="compactability, moisture follow"):
        freeze_multivariate(rows, NAMES)
    rows = samples(60, 23)
    rows[:20, 0] *= 1e6
    rows[:, 1] = rows[:, 0]
    with pytest.raises(InputError, match="compactability, moisture follow"):
        freeze_multivariate(rows, NAMES, method="robust")


@pytest.mark.parametrize("method", METHODS)
def test_impossible_baselines_are_refused(method: Method) -> None:
    """Too few, constant, missing, doubled or infinite: an error that names the property."""
    good = samples(60, 20)
    doubled = good.copy()
    doubled[:, 3] = 2.0 * doubled[:, 0] - 30.0 * doubled[:, 1]
    constant, gone, infinite = good.copy(), good.copy(), good.copy()
    constant[:, 1], gone[:, 2], infinite[3, 3] = 3.2, np.nan, np.inf
    cases = [(good[:6], "6 samples of"), (constant, "moisture are equal"), (gone, "0 samples of"),
             (infinite, "permeability of sample 4"), (good[0], "shape")]  # fmt: skip
    if method != "shrunk":
        cases.append((doubled, "compactability, moisture, permeability follow"))
    for rows, message in cases:
        with pytest.raises(InputError, match=message):
            freeze_multivariate(rows, NAMES, method=method)
    with pytest.raises(InputError, match="no sample at 60"):
        freeze_multivariate(good, NAMES, method=method, excluded=[60])


def test_impossible_charts_are_refused() -> None:
    """Other columns, an alarm out of range; an empty chart is none."""
    limits = freeze_multivariate(samples(60, 21), NAMES)
    with pytest.raises(InputError, match="shape"):
        hotelling([[1.0, 2.0]], limits)
    with pytest.raises(InputError, match="alarm"):
        hotelling(samples(3, 1), limits, alarm=0.0)
    with pytest.raises(InputError, match="each once"):
        freeze_multivariate(samples(60, 1)[:, :2], ("moisture", "moisture"))
    assert hotelling(np.empty((0, 4)), limits).beyond == ()
    few = MultivariateLimits(("a", "b"), (0.0, 0.0), ((1.0, 0.0), (0.0, 1.0)), 2.0, 1.0, "shrunk")
    assert np.isfinite(hotelling([[1.0, 1.0]], few).chance).all()
