"""The multivariate EWMA: its run lengths against printed tables, its chart against the definition."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from sandlab.charts.mewma import mewma
from sandlab.charts.multivariate import MultivariateLimits
from sandlab.charts.normal import Floats
from sandlab.charts.run_length.mewma import mewma_limit, mewma_run_length
from sandlab.errors import InputError
from tests.charts.published_data import rows
from tests.charts.test_multivariate import CENTRE, NAMES, TRUE, samples

ROWS = [row for row in rows("run_lengths.csv") if row["chart"].startswith("mewma")]
MARKOV = "the print comes from a chain of discrete states, not from the equation"
NOMINAL = "the print is the run length aimed at; the limit is printed to two decimals"
# Printed values that are not exact: (parameters, shift) -> the exact value, and what is wrong with the print.
MISPRINTS = {
    ("p=4;r=0.1;h=12.73", "0"): ("200.50", MARKOV),
    ("p=4;r=0.1;h=12.73", "0.5"): ("35.07", MARKOV),
    ("p=4;r=0.1;h=12.73", "1"): ("12.15", MARKOV),
    ("p=4;r=0.1;h=12.73", "1.5"): ("7.20", MARKOV),
    ("p=4;r=0.1;h=12.73", "2"): ("5.18", MARKOV),
    ("p=4;r=0.1;h=12.73", "3"): ("3.41", MARKOV),
    ("p=2;r=0.1;h=10.77", "0"): ("500.9", NOMINAL),
    ("p=2;r=0.1;h=13.88", "0"): ("2002.1", NOMINAL),
    ("p=2;r=0.25;h=11.89", "0"): ("500.7", NOMINAL),
    ("p=2;r=0.25;h=14.82", "0"): ("2000.6", NOMINAL),
}
LIMITS = MultivariateLimits(
    NAMES, tuple(CENTRE.tolist()), tuple(tuple(row) for row in TRUE.tolist()), 500.0, 499.0, "sample"
)


def settings(row: dict[str, str]) -> dict[str, float]:
    """The parameters of one printed row."""
    return {
        key: float(value) for key, _, value in (part.partition("=") for part in row["parameters"].split(";"))
    }


def agrees(found: float, printed: str) -> bool:
    """Whether a value is the printed one to half of its last digit, the end included."""
    return abs(found - float(printed)) <= 0.5 * 10.0 ** -len(printed.partition(".")[2]) * (1 + 1e-9)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['chart']} {row['parameters']} {row['shift']}")
def test_printed_run_lengths(row: dict[str, str]) -> None:
    """Every row of the papers it names comes out to its last digit, or the exact value of a misprint does."""
    given = settings(row)
    if row["chart"] == "mewma_crit":
        found = mewma_limit(int(given["p"]), given["r"], given["ARL0"])
    else:
        found = mewma_run_length(int(given["p"]), given["r"], given["h"], shift=float(row["shift"]))
    misprint = MISPRINTS.get((row["parameters"], row["shift"]))
    assert agrees(found, row["value"]) == (misprint is None)
    if misprint is not None:
        assert agrees(found, misprint[0])


def test_the_table_is_complete() -> None:
    """15 rows, ten of them with a print that is not exact."""
    assert len(ROWS) == 15
    assert len(MISPRINTS) == 10


@pytest.mark.parametrize(("weight", "wanted", "printed"), [
    (0.1, 100.0, "6.98"), (0.1, 500.0, "10.77"), (0.1, 2000.0, "13.88"),
    (0.25, 100.0, "8.37"), (0.25, 500.0, "11.89"), (0.25, 2000.0, "14.82"),
])  # fmt: skip
def test_printed_limits_for_two_properties(weight: float, wanted: float, printed: str) -> None:
    """Rigdon 1995a, Table 1, read the other way: the limits for the run lengths aimed at."""
    assert agrees(mewma_limit(2, weight, wanted), printed)


def chain(components: int, weight: float, limit: float, states: int) -> float:
    """In-control run length by a chain of rings (Runger & Prabhu 1996), an independent method."""
    width = 2.0 * math.sqrt(limit * weight / (2.0 - weight)) / (2 * states + 1)
    places = np.arange(states + 1) * width
    edges = ((places + width / 2) / weight) ** 2
    chances = stats.ncx2.cdf(
        edges[None, :], components, ((1 - weight) * places[:, None] / weight) ** 2 + 1e-12
    )
    moves = np.diff(np.concatenate((np.zeros((states + 1, 1)), chances), axis=1), axis=1)
    return float(np.linalg.solve(np.eye(states + 1) - moves, np.ones(states + 1))[0])


def test_markov_print_by_its_own_method() -> None:
    """A chain of some fifty states gives about the printed 199.78, an endless one the equation's 200.50."""
    assert chain(4, 0.1, 12.73, 48) == pytest.approx(199.78, abs=0.05)
    coarse, fine = chain(4, 0.1, 12.73, 60), chain(4, 0.1, 12.73, 120)
    factor = (241 / 121) ** 2
    extrapolated = fine + (fine - coarse) / (factor - 1.0)
    assert mewma_run_length(4, 0.1, 12.73) == pytest.approx(extrapolated, abs=2e-3)


@pytest.mark.parametrize(("components", "weight"), [(2, 0.15), (4, 0.3), (8, 0.3), (3, 1.0)])
def test_both_equations_agree_where_they_meet(components: int, weight: float) -> None:
    """A shift of next to nothing, in two dimensions, gives the in-control value of one dimension."""
    limit = mewma_limit(components, weight, 400.0)
    assert mewma_run_length(components, weight, limit, shift=1e-9) == pytest.approx(400.0, rel=1e-6)


def test_a_weight_of_one_is_chi_square() -> None:
    """Each sample by itself: 1/P(chi2 > h), shifted by noncentral chi-square (scipy)."""
    for shift in (0.0, 1.0, 2.5):
        expected = 1.0 / stats.ncx2.sf(12.0, 4, shift**2 + 1e-12)
        assert mewma_run_length(4, 1.0, 12.0, shift=shift) == pytest.approx(expected, rel=1e-6)


def test_run_length_after_a_shift_by_simulation() -> None:
    """Three properties, weight 0.2, a shift of one: 20 000 simulated runs, within 4 standard errors."""
    random = np.random.default_rng(3)
    limit, lengths, taken = mewma_limit(3, 0.2, 200.0), [], 0
    average = np.zeros((20_000, 3))
    while average.shape[0]:
        taken += 1
        average = 0.8 * average + 0.2 * (random.normal(size=average.shape) + np.array([0.6, 0.8, 0.0]))
        out = (average**2).sum(axis=1) * 1.8 / 0.2 > limit
        lengths += [taken] * int(out.sum())
        average = average[~out]
    error = np.std(lengths) / math.sqrt(len(lengths))
    assert np.mean(lengths) == pytest.approx(mewma_run_length(3, 0.2, limit, shift=1.0), abs=4 * error)


def by_definition(matrix: Floats, weight: float) -> Floats:
    """Distances with weights written out: z = sum of w_ts (x_s - centre), V = sum of w w' S, test by test."""
    count, p = matrix.shape
    weights, found = np.zeros((count, p)), []
    for place in range(count):
        seen = ~np.isnan(matrix[place])
        weights[:, seen] *= 1.0 - weight
        weights[place, seen] = weight
        z = (weights * np.where(np.isnan(matrix), 0.0, matrix - CENTRE)).sum(axis=0)
        variance = np.einsum("si,sj,ij->ij", weights, weights, TRUE)
        known = np.diag(variance) > 0.0
        found.append(
            z[known] @ np.linalg.inv(variance[np.ix_(known, known)]) @ z[known] if known.any() else 0.0
        )
    return np.array(found)


def test_chart_with_missing_tests_equals_its_definition() -> None:
    """Every third test missing, one sample without any: distances from weights written out test by test."""
    matrix = samples(120, 5, holes=0.3)
    matrix[0, 1:], matrix[40] = np.nan, np.nan
    chart = mewma(matrix, LIMITS, weight=0.15)
    np.testing.assert_allclose(chart.statistic, by_definition(matrix, 0.15), rtol=1e-8)
    assert chart.statistic[40] == pytest.approx(chart.statistic[39])
    assert 40 not in chart.beyond


def test_steady_limits_agree_in_the_long_run() -> None:
    """In the long run both kinds agree; at first the steady covariance is too wide."""
    matrix = samples(300, 6)
    exact, steady = mewma(matrix, LIMITS, weight=0.2), mewma(matrix, LIMITS, weight=0.2, steady_limits=True)
    np.testing.assert_allclose(steady.statistic[60:], exact.statistic[60:], rtol=1e-8)
    assert (steady.statistic[:10] < exact.statistic[:10]).all()


def test_a_small_joint_drift_is_found_where_t2_is_blind() -> None:
    """Moisture up by 1.5 sigmas at the same compactability: found within ten samples in 19 of 20 runs."""
    found = 0
    for seed in range(20):
        matrix = samples(60, 100 + seed)
        matrix[30:, 1] += 0.15
        later = [place for place in mewma(matrix, LIMITS).beyond if place >= 30]
        found += bool(later) and later[0] < 40
    assert found >= 19


def test_impossible_settings_are_refused() -> None:
    """Every setting out of range at once; an empty chart is no fault."""
    with pytest.raises(InputError) as caught:
        mewma_run_length(1, 0.0, 0.0, shift=-1.0)
    assert [problem.where for problem in caught.value.problems] == ["components", "weight", "limit", "shift"]
    with pytest.raises(InputError, match="run length"):
        mewma_limit(3, 0.1, 1e9)
    with pytest.raises(InputError) as caught:
        mewma(samples(5, 1), LIMITS, weight=0.0, limit=math.inf)
    assert [problem.where for problem in caught.value.problems] == ["limit", "weight"]
    with pytest.raises(InputError, match="infinite"):
        mewma([[np.inf, 1.0, 1.0, 1.0]], LIMITS)
    chart = mewma(np.full((3, 4), np.nan), LIMITS)
    assert chart.statistic.tolist() == [0.0] * 3
    assert chart.beyond == ()
    assert mewma(np.empty((0, 4)), LIMITS).beyond == ()
