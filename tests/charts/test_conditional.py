"""What few baseline tests promise, and whether a baseline still holds: against simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts.baseline import Basis, Limits, freeze
from sandlab.charts.baseline_check import check_baseline
from sandlab.charts.conditional import baseline_run_length, guaranteed_width
from sandlab.charts.normal import Floats, below
from sandlab.errors import InputError
from tests.charts.test_phase_one import related


def simulated_lengths(count: int, width: float, basis: Basis, seed: int) -> Floats:
    """True run lengths of 40 000 baselines of `count` standard normal tests, from their estimates alone."""
    values = np.random.default_rng(seed).normal(size=(40_000, count))
    centre = values.mean(axis=1)
    if basis == "overall":
        sigma = values.std(axis=1, ddof=1)
    else:
        sigma = np.abs(np.diff(values, axis=1)).mean(axis=1) * math.sqrt(math.pi) / 2
    return np.asarray(1.0 / (below(centre - width * sigma) + below(-centre - width * sigma)))


@pytest.mark.parametrize("basis", ["overall", "moving_range"])
@pytest.mark.parametrize("count", [8, 30, 100])
def test_run_lengths_of_baselines(basis: Basis, count: int) -> None:
    """The share of simulated baselines below each quantile is the stated one, within 4 standard errors."""
    found = baseline_run_length(count, basis=basis)
    lengths = simulated_lengths(count, 3.0, basis, seed=count)
    for share, quantile in ((0.1, found.low), (0.5, found.median), (0.9, found.high)):
        error = math.sqrt(share * (1 - share) / lengths.size)
        assert float(np.mean(lengths < quantile)) == pytest.approx(share, abs=4 * error)
    assert f"{float(f'{found.low:.2g}'):.0f} to" in found.sentence


def test_a_large_baseline_approaches_known_limits() -> None:
    """With a million tests the run length is the 370.4 of three sigmas (Champ & Woodall 1987, Table 1)."""
    found = baseline_run_length(1_000_000)
    assert (found.low, found.high) == pytest.approx((370.4, 370.4), rel=0.01)
    assert guaranteed_width(1_000_000) == pytest.approx(3.0, abs=0.01)


@pytest.mark.parametrize("basis", ["overall", "moving_range"])
def test_guaranteed_limits_keep_the_run_length(basis: Basis) -> None:
    """Nine simulated baselines in ten have the wanted run length or more."""
    width = guaranteed_width(40, run_length=200.0, basis=basis)
    lengths = simulated_lengths(40, width, basis, seed=5)
    assert float(np.mean(lengths >= 200.0)) == pytest.approx(0.9, abs=4 * math.sqrt(0.09 / lengths.size))


@pytest.mark.parametrize("phi", [0.0, 0.6])
def test_a_baseline_that_holds_is_left_alone(phi: float) -> None:
    """The same process later: a new baseline proposed in under 4 % of 300 simulations, gaps included."""
    random = np.random.default_rng(4)
    proposed = 0
    for _ in range(300):
        values = related(phi, 160, random)
        values[random.random(160) < 0.1] = np.nan
        proposed += check_baseline(values[100:], freeze(values[:60])).proposed
    assert proposed < 12


def test_a_drifted_baseline_is_noticed() -> None:
    """A mean moved by 1.5 sigmas, and a spread doubled: proposed, with intervals that hold the truth."""
    random = np.random.default_rng(6)
    limits = freeze(random.normal(140.0, 4.0, 60))
    moved = check_baseline(random.normal(146.0, 4.0, 50), limits, decimals=1, unit="kPa")
    assert moved.moved
    assert not moved.spread
    assert moved.shift_low < 6.0 < moved.shift_high
    assert "no longer describes" in moved.sentence
    assert "kPa" in moved.sentence
    wider = check_baseline(random.normal(140.0, 8.0, 50), limits)
    assert wider.spread
    assert not wider.moved
    assert wider.ratio_low < 2.0 < wider.ratio_high
    assert "times what it was" in wider.sentence


def test_a_sure_but_slight_change_is_left_alone() -> None:
    """A tenth of a sigma over thousands of tests is sure, but no reason for new limits."""
    random = np.random.default_rng(2)
    limits = freeze(random.normal(size=4000))
    found = check_baseline(random.normal(0.15, 1.0, 4000), limits)
    assert found.shift_low > 0.0
    assert not found.proposed
    assert found.sentence == "The last 4000 tests agree with the baseline of 4000."


def test_constant_tests_after_a_baseline() -> None:
    """Equal later tests, as from a stuck instrument: the spread has gone to nothing, and no NaN appears."""
    limits = Limits(0.0, 1.0, 50, 1.0, 1.0, 0.0)
    found = check_baseline([0.5] * 20, limits)
    assert (found.ratio, found.ratio_low, found.ratio_high) == (0.0, 0.0, 0.0)
    assert found.spread
    huge = check_baseline(1e95 * (5.0 + np.arange(20) % 2), limits)
    assert huge.moved
    assert math.isfinite(huge.shift_high)


def test_impossible_input_is_refused() -> None:
    """Too few tests, a constant baseline, settings out of range: every problem at once."""
    with pytest.raises(InputError) as caught:
        check_baseline([1.0, np.nan], freeze([2.0] * 10), confidence=1.0)
    assert [problem.where for problem in caught.value.problems] == ["values", "limits", "confidence"]
    with pytest.raises(InputError, match="infinite"):
        check_baseline([1.0, np.inf], Limits(0.0, 1.0, 50, 1.0, 1.0, 0.0))
    with pytest.raises(InputError, match="8 or more"):
        baseline_run_length(7)
    with pytest.raises(InputError, match="width"):
        baseline_run_length(30, width=0.0)
    with pytest.raises(InputError) as caught:
        guaranteed_width(30, run_length=1.0, assurance=1.0)
    assert len(caught.value.problems) == 2
