"""Trial limits, proposed exclusions and quiet windows, against simulation and planted faults."""

from __future__ import annotations

import numpy as np
import pytest

from sandlab.charts.baseline import Basis
from sandlab.charts.normal import Floats
from sandlab.charts.phase_one import PASSES, propose_exclusions, trial_width
from sandlab.charts.quiet_window import quiet_window
from sandlab.errors import InputError


def planted(count: int = 60, seed: int = 4) -> Floats:
    """Tests of one state, with two gross ones at 10 and 40 and a missing one at 20."""
    values = np.random.default_rng(seed).normal(42.0, 1.0, count)
    values[[10, 40]], values[20] = (49.0, 36.0), np.nan
    return values


def related(phi: float, count: int, random: np.random.Generator) -> Floats:
    """A stationary autocorrelated series of unit deviation."""
    values = random.normal(size=count)
    for place in range(1, count):
        values[place] = phi * values[place - 1] + np.sqrt(1.0 - phi**2) * values[place]
    return values


@pytest.mark.parametrize("basis", ["overall", "moving_range"])
@pytest.mark.parametrize("robust", [False, True])
@pytest.mark.parametrize("count", [8, 25, 150])
def test_trial_limits_hold_a_window_of_one_state(basis: Basis, robust: bool, count: int) -> None:
    """20 000 simulated windows stay inside 19 times in 20, whatever their size, within 4 standard errors."""
    values = np.random.default_rng(9).normal(size=(20_000, count))
    ranges = np.abs(np.diff(values, axis=1))
    centre = (np.median if robust else np.mean)(values, axis=1)
    distance = np.abs(values - centre[:, None])
    match basis, robust:
        case "overall", False:
            sigma = values.std(axis=1, ddof=1)
        case "overall", True:
            sigma = 1.482602 * np.median(distance, axis=1)
        case _, False:
            sigma = ranges.mean(axis=1) * np.sqrt(np.pi) / 2
        case _:
            sigma = np.median(ranges, axis=1) / 0.953873
    width = trial_width(count, basis=basis, robust=robust)
    alarms = float(np.mean(distance.max(axis=1) > width * sigma))
    assert alarms == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / 20_000))


@pytest.mark.parametrize("basis", ["overall", "moving_range"])
def test_explained_outliers_leave_and_are_remembered(basis: Basis) -> None:
    """Both gross tests leave with their causes; the second pass finds the rest clean."""
    causes = {10: "muller door left open", 40: "water valve stuck"}
    found = propose_exclusions(planted(), causes=causes, basis=basis, decimals=1, unit="%")
    assert found.places == (10, 40)
    assert [exclusion.cause for exclusion in found.excluded] == list(causes.values())
    assert found.stopped == "clean"
    assert found.acceptable
    assert found.passes[0].robust
    assert not found.passes[-1].robust
    assert found.count == 57
    assert "sigma above 41.8 %;" in found.excluded[0].reason
    assert found.sentence.startswith("2 tests leave, 57 stay after pass")


def test_unexplained_outliers_stay() -> None:
    """Without a logged cause nothing leaves, and the window is not called clean."""
    found = propose_exclusions(planted())
    assert found.places == ()
    assert found.stopped == "no cause"
    assert {proposal.place for proposal in found.passes[0].proposals} == {10, 40}
    assert not found.acceptable
    assert propose_exclusions(planted(), without_cause=True).places == (10, 40)


def test_masked_outliers_are_still_called_unexplained() -> None:
    """Three equal gross tests hide each other from the mean, not from the median."""
    values = np.random.default_rng(6).normal(0.0, 1.0, 30)
    values[[5, 6, 7]] = 7.0
    found = propose_exclusions(values)
    assert len(found.passes[-1].proposals) == 0
    assert found.stopped == "no cause"


def test_a_window_of_two_states_is_given_up() -> None:
    """A third of the window on another level: more than a tenth would go, so none goes."""
    values = np.random.default_rng(3).normal(0.0, 1.0, 60)
    values[:8] += 12.0
    found = propose_exclusions(values, without_cause=True)
    assert found.stopped == "too many"
    assert found.places == ()


def test_passes_are_limited() -> None:
    """Mostly equal readings with gross ones, each hiding the next from the mean: one leaves per pass."""
    values = np.zeros(100)
    values[::5] = 1.0
    values[[3, 23, 43, 63, 83]] = 1e2, 1e4, 1e6, 1e8, 1e10
    found = propose_exclusions(values, without_cause=True)
    assert [one.proposals[0].place for one in found.passes] == [83, 63, 43, 23]
    assert len(found.passes) == PASSES
    assert found.stopped == "passes"
    assert found.places == (43, 63, 83)


def test_false_proposals_are_as_rare_as_stated() -> None:
    """Windows of one state, plain and autocorrelated: over all passes one in ten at most shows a proposal."""
    random = np.random.default_rng(8)
    for phi in (0.0, 0.5):
        windows = [propose_exclusions(related(phi, 50, random)) for _ in range(400)]
        assert np.mean([any(one.proposals for one in window.passes) for window in windows]) < 0.10


def test_coarse_and_constant_windows() -> None:
    """Readings coarser than half a sigma are judged by means; equal ones not at all; lone ones overall."""
    values = np.round(np.random.default_rng(2).normal(42.0, 0.7, 40))
    assert not propose_exclusions(values).passes[0].robust
    lonely = np.full(40, np.nan)
    lonely[::2] = values[:20]
    assert propose_exclusions(lonely, basis="moving_range").passes[0].sigma > 0.0
    constant = propose_exclusions([42.0] * 20)
    assert constant.stopped == "constant"
    assert constant.passes[0].proposals == ()


def test_the_quiet_window_starts_after_the_last_change() -> None:
    """Two planted shifts: the window is the stretch after the second, gaps and all."""
    values = np.random.default_rng(5).normal(0.0, 1.0, 200)
    values[60:] += 3.0
    values[120:] -= 2.5
    values[[70, 150]] = np.nan
    found = quiet_window(values)
    assert abs(found.first - 120) <= 3
    assert found.last == 199
    assert found.enough
    assert found.count == int(np.count_nonzero(~np.isnan(values[found.first :])))
    short = quiet_window(values[:130], minimum=30)
    assert not short.enough
    assert "more are needed" in short.reason


def test_the_quiet_window_is_not_cut_by_chance() -> None:
    """Series of one level, plain and autocorrelated: fewer than one in twelve is cut (200 of each)."""
    random = np.random.default_rng(7)
    for phi in (0.0, 0.6):
        cut = sum(quiet_window(related(phi, 150, random)).first > 0 for _ in range(200))
        assert cut < 17


def test_quiet_windows_without_spread() -> None:
    """One level, or two, without any spread: the last level is the window; a lone last test is no level."""
    assert quiet_window([5.0] * 12).first == 0
    assert quiet_window([5.0] * 12 + [6.0] * 9).first == 12
    values = np.random.default_rng(1).normal(size=50)
    values[-1] = 9.0
    assert quiet_window(values).first == 0
    assert quiet_window(np.arange(50.0) % 3, longest=30).first == 20


def test_impossible_input_is_refused() -> None:
    """Too few, infinite, causes without a test, settings out of range: every problem said."""
    with pytest.raises(InputError) as caught:
        propose_exclusions([1.0, np.nan, 2.0], causes={1: "no test here"})
    assert [problem.where for problem in caught.value.problems] == ["window", "causes"]
    for bad in ([np.nan] * 20, [1.0] * 9 + [np.inf], []):
        with pytest.raises(InputError):
            propose_exclusions(bad)
        with pytest.raises(InputError):
            quiet_window(bad)
    with pytest.raises(InputError, match="minimum"):
        quiet_window([1.0] * 50, minimum=3)
    with pytest.raises(InputError, match="8 or more"):
        trial_width(7)
