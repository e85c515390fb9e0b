"""Charts designed from two wishes: what they reach, by the run-length equations and by drawn baselines."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts import (
    cusum_decision,
    cusum_run_length,
    design_cusum,
    design_ewma,
    ewma_run_length,
    ewma_width,
)
from sandlab.errors import InputError


@pytest.mark.parametrize(("run_length", "shift"), [(370.0, 1.0), (500.0, 0.5), (1000.0, 3.0), (50.0, 2.0)])
def test_no_other_setting_finds_the_shift_sooner(run_length: float, shift: float) -> None:
    """A grid of settings with the same run length between false alarms finds nothing better by 1 %."""
    smooth = design_ewma(run_length, shift, 1e6)
    assert ewma_run_length(smooth.weight, smooth.width) == pytest.approx(run_length, rel=1e-3)
    assert smooth.reached.possible
    for weight in np.geomspace(0.02, 1.0, 12).tolist():
        width = ewma_width(weight, run_length)
        other = ewma_run_length(weight, width, shift=shift, steady_limits=True)
        assert smooth.reached.detection < 1.01 * other
    sums = design_cusum(run_length, shift, 1e6)
    assert cusum_run_length(sums.reference, sums.decision) == pytest.approx(run_length, rel=1e-6)
    for reference in (np.linspace(0.3, 0.8, 9) * shift).tolist():
        other = cusum_run_length(reference, cusum_decision(reference, run_length), shift=shift)
        assert sums.reached.detection < 1.01 * other


def test_known_optimum() -> None:
    """Half the shift is the best reference value (Moustakides 1986, from memory), to a tenth."""
    for shift in (0.5, 1.0, 2.0):
        assert design_cusum(500.0, shift, 1e6).reference == pytest.approx(shift / 2.0, rel=0.1)


def test_printed_design() -> None:
    """Lucas & Saccucci 1990: for 500 and a shift of 1, weight about 0.13, width 2.89, 10.2 (from memory)."""
    design = design_ewma(500.0, 1.0, 12.0)
    assert design.weight == pytest.approx(0.13, abs=0.015)
    assert design.width == pytest.approx(2.89, abs=0.02)
    assert design.reached.detection == pytest.approx(10.2, abs=0.05)


@pytest.mark.parametrize("design", [design_ewma, design_cusum])
def test_an_impossible_wish_names_the_best_there_is(design) -> None:  # type: ignore[no-untyped-def]
    """A shift of one sigma within 5 tests: about 10 is the best, or bear a false alarm in about 30."""
    reached = design(370.0, 1.0, 5.0).reached
    assert not reached.possible
    assert 9.0 < reached.detection < 10.5
    assert 20.0 < reached.affordable_run_length < 40.0
    assert "accept one false alarm in" in reached.sentence
    # What is said to be affordable does find it in time, and a little more would not.
    assert design(reached.affordable_run_length * 0.97, 1.0, 5.0).reached.possible
    assert not design(reached.affordable_run_length * 1.04, 1.0, 5.0).reached.possible
    hopeless = design(370.0, 0.2, 3.0).reached
    assert (hopeless.possible, hopeless.affordable_run_length) == (False, None)
    assert "no such chart is quick enough" in hopeless.sentence


def test_a_baseline_is_allowed_for() -> None:
    """Of 300 drawn baselines of 50 tests 90 % reach the wished run length, within 5 points."""
    random = np.random.default_rng(23)
    centres = random.standard_normal(300) / math.sqrt(50)
    sigmas = np.sqrt(random.chisquare(49, 300) / 49)
    pairs = list(zip(centres.tolist(), sigmas.tolist(), strict=True))
    smooth = design_ewma(370.0, 1.0, 20.0, baseline_count=50)
    lengths = [ewma_run_length(smooth.weight, smooth.width * s, shift=c) for c, s in pairs]
    assert np.mean(np.array(lengths) >= 370.0) == pytest.approx(0.9, abs=0.05)
    sums = design_cusum(370.0, 1.0, 20.0, baseline_count=50)
    lengths = [cusum_run_length(sums.reference * s, sums.decision * s, shift=c) for c, s in pairs]
    assert np.mean(np.array(lengths) >= 370.0) == pytest.approx(0.9, abs=0.05)
    # It costs detection: 9.6 tests with known limits.
    assert 14.0 < smooth.reached.detection < 17.0
    assert "90 % of baselines of 50 tests" in smooth.reached.sentence


def test_words() -> None:
    """The design in words: settings, false alarms, detection."""
    assert design_ewma(370.0, 1.0, 12.0).reached.sentence == (
        "EWMA with weight 0.14 and limits at 2.80 sigma: one false alarm in 370 tests; a shift of 1 sigma is "
        "found after 9.6 tests on average, 9 of 10 within 16."
    )


@pytest.mark.parametrize("design", [design_ewma, design_cusum])
def test_impossible_settings_are_refused(design) -> None:  # type: ignore[no-untyped-def]
    """Every wish out of range is named at once."""
    with pytest.raises(InputError) as caught:
        design(5.0, 0.0, 0.5, baseline_count=10)
    assert [problem.where for problem in caught.value.problems] == [
        "run length", "shift", "within", "baseline",
    ]  # fmt: skip


@pytest.mark.parametrize(("run_length", "shift"), [(10.0, 6.0), (1e6, 6.0), (10.0, 0.2), (2000.0, 0.2)])
def test_extreme_wishes_have_an_answer(run_length: float, shift: float) -> None:
    """The corners of what may be asked give finite settings."""
    for reached in (
        design_ewma(run_length, shift, 1e5).reached,
        design_cusum(run_length, shift, 1e5).reached,
    ):
        assert reached.run_length >= 0.99 * run_length
        assert 1.0 <= reached.detection <= 1.5 * reached.run_length
