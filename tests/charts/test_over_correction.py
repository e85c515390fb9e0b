"""The trace of over-correction on simulated loops: how often it is found, and how often falsely."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts import ALTERNATIVES, over_correction
from sandlab.charts.normal import Floats
from sandlab.charts.over_correction import autocorrelations
from sandlab.errors import InputError

POSSIBLE = "possible over-correction"


def loop(
    random: np.random.Generator, count: int, *, gain: float = 0.0, delay: int = 0, noise: float = 0.0
) -> Floats:
    """Cycles of x+ = 0.91 x - gain x(n - delay) + step, tested with noise as a share of the deviation."""
    from scipy.signal import lfilter

    back = np.zeros(delay + 2)
    back[0] = 1.0
    back[1] -= 0.91
    back[delay + 1] += gain
    values = np.asarray(lfilter([1.0], back, random.standard_normal(count + 200)))[200:]
    return np.asarray(values + noise * values.std() * random.standard_normal(count))


def one_of_each(count: int) -> dict[str, list[str]]:
    """One muller, one operator, one sampling point: nothing of that can alternate."""
    return {name: ["A"] * count for name in ALTERNATIVES}


@pytest.mark.parametrize(
    ("delay", "noise"), [(0, 0.0), (1, 0.0), (2, 0.0), (3, 1.0), (None, 0.0), (None, 1.0)]
)
def test_a_loop_that_nobody_corrects_is_left_alone(delay: int | None, noise: float) -> None:
    """500 loops of 150 cycles: at most 1 % with its sampling error, 11 of 500, are called over-corrected."""
    random = np.random.default_rng(40)
    called = [
        over_correction(loop(random, 150, noise=noise), delay=delay, alternatives=one_of_each(150)).verdict
        for _ in range(500)
    ]
    assert called.count(POSSIBLE) <= 11


@pytest.mark.parametrize("delay", [0, 2, None])
def test_independent_tests_are_left_alone(delay: int | None) -> None:
    """1000 series of 100 independent tests: 1 % falsely, that is 2 to 22 of 1000."""
    random = np.random.default_rng(41)
    called = [
        over_correction(random.standard_normal(100), delay=delay, alternatives=one_of_each(100)).verdict
        for _ in range(1000)
    ]
    assert 2 <= called.count(POSSIBLE) <= 22


@pytest.mark.parametrize(("gain", "delay"), [(1.4, 0), (0.7, 1), (0.45, 2), (0.35, 3)])
def test_over_corrected_loops_are_found(gain: float, delay: int) -> None:
    """100 stable loops of 150 cycles, corrected too strongly: at least 95 found, the trough at 2-3 delays."""
    random = np.random.default_rng(42)
    found = [
        over_correction(loop(random, 150, gain=gain, delay=delay), delay=delay, alternatives=one_of_each(150))
        for _ in range(100)
    ]
    assert [one.verdict for one in found].count(POSSIBLE) >= 95
    middle = float(np.median([one.lag for one in found]))
    assert max(1, 2 * delay) <= middle <= 3 * delay + 1
    assert found[0].sentence.startswith("Possible over-correction: tests ")
    assert "muller, operator and sampling point do not explain it" in found[0].sentence


def test_the_funnel() -> None:
    """Deming's funnel, rule 2: a setting moved by -g each error: r_1 = -g/2, at g = 1 twice the variance."""
    random = np.random.default_rng(43)
    for gain in (0.4, 1.0):
        setting, errors = 0.0, []
        for step in random.standard_normal(4000).tolist():
            errors.append(setting + step)
            setting -= gain * errors[-1]
        found = over_correction(errors, delay=0, alternatives=one_of_each(4000))
        assert found.verdict == POSSIBLE
        assert found.correlation == pytest.approx(-gain / 2.0, abs=0.05)
        assert found.delay_high == 0.0
        assert "too strongly at once" in found.sentence
    assert np.var(errors) == pytest.approx(2.0, rel=0.1)


def test_nothing_is_said_before_the_alternatives_are_ruled_out() -> None:
    """Without groups, or without all of them, the trough is reported and what to look at first."""
    values = loop(np.random.default_rng(44), 200, gain=0.45, delay=2)
    bare = over_correction(values)
    assert bare.verdict == "not ruled out"
    assert bare.missing == ALTERNATIVES
    assert "over-correction" not in bare.sentence
    assert bare.sentence.endswith("first rule out muller, operator or sampling point.")
    assert bare.delay_low <= 2.0 <= bare.delay_high
    some = over_correction(values, alternatives={"muller": ["A"] * 200, "operator": ["A", "B"] * 100})
    assert some.missing == ("sampling point",)
    # A group for nearly every test would take any trough away: that rules nothing out.
    each = over_correction(values, alternatives=one_of_each(200) | {"operator": [str(i) for i in range(200)]})
    assert each.missing == ("operator",)


@pytest.mark.parametrize("name", ALTERNATIVES)
def test_alternating_sources_explain_a_trough(name: str) -> None:
    """Two sources that take turns, 2 deviations apart: the trough is theirs, and it is said whose."""
    random = np.random.default_rng(45)
    labels = ["A" if place // 4 % 2 else "B" for place in range(240)]
    values = random.standard_normal(240) + np.array([2.0 if label == "A" else 0.0 for label in labels])
    found = over_correction(values, alternatives=one_of_each(240) | {name: labels})
    assert found.verdict == "explained"
    assert found.lag in (3, 4, 5)
    (culprit,) = [other for other in found.alternatives if other.explains]
    assert (culprit.name, culprit.groups) == (name, 2)
    assert culprit.difference == pytest.approx(2.0, abs=0.4)
    assert found.sentence.startswith(f"Tests differ by {name}: ")


def test_mullers_in_turn_with_every_test() -> None:
    """Two mullers that take turns with each test swing at lag 1, like a correction made at once."""
    values = np.random.default_rng(46).standard_normal(120) + np.array([1.5, 0.0] * 60)
    turns = {"muller": ["A", "B"] * 60}
    assert over_correction(values, delay=0, alternatives=one_of_each(120) | turns).verdict == "explained"
    assert over_correction(values, delay=0, alternatives=one_of_each(120)).verdict == POSSIBLE


def test_several_tests_in_a_cycle() -> None:
    """Three tests a cycle: lags are in slots, cycles in words, and gaps do no harm."""
    random = np.random.default_rng(47)
    values = np.repeat(loop(random, 150, gain=0.45, delay=2), 3) + 0.3 * random.standard_normal(450)
    values[random.random(450) < 0.2] = np.nan
    found = over_correction(values, delay=2.0, per_cycle=3, alternatives=one_of_each(450))
    assert found.verdict == POSSIBLE
    assert 12 <= found.lag <= 18
    assert found.cycles == found.lag / 3
    assert found.correlations.size == 25


def test_autocorrelations_by_definition() -> None:
    """Every lag over the pairs measured, by plain sums."""
    values = [1.0, 3.0, math.nan, 2.0, 5.0, 4.0]
    distance = {i: x - 3.0 for i, x in enumerate(values) if not math.isnan(x)}
    found, pairs = autocorrelations(values, 7)
    assert pairs.tolist() == [5, 3, 2, 2, 2, 1, 0, 0]
    for lag in range(6):
        products = [distance[i] * distance[i + lag] for i in distance if i + lag in distance]
        assert found[lag] == pytest.approx(sum(products) / len(products) / 2.0)
    assert found[6:].tolist() == [0.0, 0.0]


@pytest.mark.parametrize("values", [[], [1.0] * 10, [math.nan] * 200, [1.0, math.nan] * 30])
def test_too_few_tests(values: list[float]) -> None:
    """Few, missing or no tests: said in words."""
    found = over_correction(values)
    assert found.verdict == "too few tests"
    assert "too few to search" in found.sentence


def test_constant_and_impossible_input() -> None:
    """Equal values have no trough; settings and labels that do not fit are named at once."""
    assert over_correction([1.0] * 100).verdict == "no trough"
    assert over_correction([1.0] * 100).sentence == "No sign of over-correction."
    with pytest.raises(InputError) as caught:
        over_correction([1.0] * 50, delay=9.0, per_cycle=0, alternatives={"muller": ["A"]})
    assert [problem.where for problem in caught.value.problems] == ["slots per cycle", "delay", "muller"]
    with pytest.raises(InputError, match="infinite"):
        over_correction([math.inf] * 50)
