"""Subgroup charts against plain loops, simulation and their own definitions."""

from __future__ import annotations

import math
import statistics

import numpy as np
import pytest

from sandlab.charts.constants import c4, d2
from sandlab.charts.normal import Floats
from sandlab.charts.subgroup_rows import tabulate
from sandlab.charts.subgroups import SubgroupBasis, freeze_subgroups, subgroup_chart
from sandlab.errors import InputError
from tests.charts.published_calls import hard_bake_table

BASES: tuple[SubgroupBasis, ...] = ("range", "deviation", "pooled")


def uneven(seed: int, rows: int = 40) -> Floats:
    """Subgroups of one to five tests, one of them without any."""
    random = np.random.default_rng(seed)
    table = random.normal(42.0, 1.5, (rows, 5))
    table[random.random((rows, 5)) < 0.25] = np.nan
    table[3], table[7, 1:] = np.nan, np.nan
    return table


def test_equal_sizes_give_the_plain_formulas() -> None:
    """With rows alike sigma is the mean range over d2, the mean deviation over c4, or the pooled one."""
    table = hard_bake_table()
    ranges = [max(row) - min(row) for row in table.tolist()]
    deviations = [statistics.stdev(row) for row in table.tolist()]
    pooled = math.sqrt(statistics.mean(deviation**2 for deviation in deviations))
    for basis, expected in zip(
        BASES, (statistics.mean(ranges) / d2(5), statistics.mean(deviations) / c4(5), pooled / c4(101)),
        strict=True,
    ):  # fmt: skip
        assert freeze_subgroups(table, basis=basis).sigma == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_chart_of_uneven_rows_equals_plain_loops(seed: int) -> None:
    """Means, spreads and limits row by row with the statistics module; a single test has no spread."""
    table = uneven(seed)
    limits = freeze_subgroups(table)
    for spread in ("range", "deviation"):
        chart = subgroup_chart(table, limits, spread=spread)  # type: ignore[arg-type]
        for place, row in enumerate(table):
            tests = row[~np.isnan(row)].tolist()
            assert chart.sizes[place] == len(tests)
            if tests:
                assert chart.means[place] == pytest.approx(statistics.mean(tests), rel=1e-12)
                reach = 3.0 * limits.sigma / math.sqrt(len(tests))
                assert chart.mean_upper[place] == pytest.approx(limits.centre + reach)
            else:
                assert np.isnan(chart.means[place])
            if len(tests) > 1:
                measure = max(tests) - min(tests) if spread == "range" else statistics.stdev(tests)
                unbias = d2(len(tests)) if spread == "range" else c4(len(tests))
                assert chart.spreads[place] == pytest.approx(measure, rel=1e-9)
                assert chart.spread_centre[place] == pytest.approx(unbias * limits.sigma)
            else:
                assert np.isnan(chart.spreads[place])
        assert np.isfinite([chart.mean_lower, chart.mean_upper, chart.spread_lower, chart.spread_upper]).all()


@pytest.mark.parametrize("basis", BASES)
def test_sigma_and_its_freedom_by_simulation(basis: SubgroupBasis) -> None:
    """Uneven rows, 2000 baselines: sigma is unbiased and its spread is that of the stated freedom."""
    random = np.random.default_rng(11)
    holes = np.isnan(uneven(0, rows=25))
    tables = np.where(holes, np.nan, random.normal(0.0, 1.0, (2000, 25, 5)))
    found = [freeze_subgroups(table, basis=basis) for table in tables]
    sigmas = np.array([limits.sigma for limits in found])
    assert sigmas.mean() == pytest.approx(1.0, abs=4 * sigmas.std() / math.sqrt(2000))
    freedom = found[0].freedom
    expected = math.sqrt(1 - c4(round(freedom) + 1) ** 2) / c4(round(freedom) + 1)
    assert sigmas.std() / sigmas.mean() == pytest.approx(expected, rel=0.06)


def test_repeats_of_one_sample_bring_in_the_spread_between() -> None:
    """Simulated: sand sigma 2, test sigma 0.5; limits of the mean then hold 99.7 % of the samples."""
    random = np.random.default_rng(2)
    table = 42.0 + random.normal(0.0, 2.0, (3000, 1)) + random.normal(0.0, 0.5, (3000, 3))
    table[random.random(table.shape) < 0.2] = np.nan
    plain, repeated = freeze_subgroups(table), freeze_subgroups(table, repeats=True)
    assert plain.flags == ("between",)
    assert repeated.flags == ()
    assert repeated.sigma == pytest.approx(0.5, rel=0.03)
    assert repeated.sigma_between == pytest.approx(2.0, rel=0.05)
    assert len(subgroup_chart(table, plain).mean_beyond) > 1500
    assert len(subgroup_chart(table, repeated).mean_beyond) < 20


def test_shifted_row_and_wide_row_are_flagged() -> None:
    """A row moved by three sigmas shows on the mean chart, one four times as wide on the spread chart."""
    table = hard_bake_table()
    limits = freeze_subgroups(table, basis="range")
    table[4] += 3 * limits.sigma
    table[9] = limits.centre + 4 * (table[9] - table[9].mean())
    for spread in ("range", "deviation"):
        chart = subgroup_chart(table, limits, spread=spread)  # type: ignore[arg-type]
        assert chart.mean_beyond == (4,)
        assert chart.spread_beyond == (9,)


def test_large_levels_lose_no_digits() -> None:
    """A level of a thousand million leaves sigma as it is."""
    table = hard_bake_table()
    near, far = freeze_subgroups(table), freeze_subgroups(np.round(table * 8192) / 8192 + 2.0**30)
    assert far.sigma == pytest.approx(freeze_subgroups(np.round(table * 8192) / 8192).sigma, rel=1e-12)
    assert far.sigma == pytest.approx(near.sigma, rel=1e-3)


def test_labels_become_rows() -> None:
    """Values with sample labels become a table, rows in order of first appearance."""
    table = tabulate([1.0, 2.0, 3.0, 4.0, 5.0], ["b", "a", "b", "b", "a"])
    np.testing.assert_array_equal(table, [[1.0, 3.0, 4.0], [2.0, 5.0, np.nan]])
    with pytest.raises(InputError, match="one label per value"):
        tabulate([1.0, 2.0], [1])


def test_exclusion_equals_leaving_out() -> None:
    """An excluded row has no part in the limits, and is remembered."""
    table = hard_bake_table()
    limits = freeze_subgroups(table, excluded=[2, 5])
    assert limits.excluded == (2, 5)
    assert limits.sigma == freeze_subgroups(np.delete(table, [2, 5], axis=0)).sigma


def test_doubtful_baselines_are_flagged() -> None:
    """Constant rows, few rows, ranges of many tests."""
    assert freeze_subgroups([[1.0, 1.0], [2.0, 2.0]] * 5).flags == ("constant",)
    random = np.random.default_rng(5)
    assert freeze_subgroups(random.normal(size=(8, 4))).flags == ("few",)
    assert freeze_subgroups(random.normal(size=(30, 12)), basis="range").flags == ("large",)


def test_impossible_input_is_refused() -> None:
    """Every problem at once; never a NaN."""
    good = hard_bake_table()
    with pytest.raises(InputError) as caught:
        freeze_subgroups(good[:3], width=0.0)
    assert [problem.where for problem in caught.value.problems] == ["baseline", "width"]
    bad = good.copy()
    bad[1, 2] = np.inf
    for table in (bad, good[:, :1], good[0], np.full((9, 3), np.nan), np.empty((0, 4))):
        with pytest.raises(InputError):
            freeze_subgroups(table)
    singles = np.full((9, 3), np.nan)
    singles[:, 0] = 1.0
    with pytest.raises(InputError, match="two or more tests"):
        freeze_subgroups(singles)
    with pytest.raises(InputError, match="no subgroup at 25"):
        freeze_subgroups(good, excluded=[25])
    with pytest.raises(InputError, match="equal"):
        subgroup_chart(good, freeze_subgroups([[1.0, 1.0]] * 6))


def test_an_empty_chart_is_no_fault() -> None:
    """Frozen limits and no test yet: nothing flagged."""
    limits = freeze_subgroups(hard_bake_table())
    for table in (np.full((3, 4), np.nan), np.empty((0, 4))):
        chart = subgroup_chart(table, limits)
        assert (chart.mean_beyond, chart.spread_beyond) == ((), ())
        assert np.isfinite(chart.mean_upper).all()
