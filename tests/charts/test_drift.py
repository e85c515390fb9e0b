"""EWMA and CUSUM charts and the start of a change, against printed examples and their definitions."""

from __future__ import annotations

import numpy as np
import pytest

from sandlab.charts import Limits, change_point, cusum, ewma, freeze, split_point
from sandlab.errors import InputError
from tests.charts.published_data import column
from tests.charts.test_alarm_rate import autoregressive

STANDARD = Limits(centre=0.0, sigma=1.0, count=100, sigma_overall=1.0, sigma_moving_range=1.0, lag1=0.0)
TABLE_9_1 = Limits(centre=10.0, sigma=1.0, count=100, sigma_overall=1.0, sigma_moving_range=1.0, lag1=0.0)
CONSTANT = freeze([42.0] * 20)


def test_nist_ewma() -> None:
    """NIST/SEMATECH handbook 6.3.2.4: the printed column; limits 52.5884, 47.4115 (47.41157, truncated)."""
    limits = Limits(50.0, 2.0539, 100, 2.0539, 2.0539, 0.0)
    chart = ewma(column("nist_ewma.csv", "x"), limits, weight=0.3, width=3.0, steady_limits=True)
    np.testing.assert_allclose(chart.average, column("nist_ewma.csv", "ewma_published"), atol=0.005 + 1e-9)
    assert chart.upper[0] == pytest.approx(52.5884, abs=5e-5)
    assert chart.lower[0] == pytest.approx(47.41157, abs=5e-6)
    assert chart.beyond == ()


def test_montgomery_ewma() -> None:
    """Montgomery, Table 9.1: EWMA 0.1 with exact limits at 2.7 signals at 29 and 30 only."""
    chart = ewma(column("montgomery_table9_1.csv", "x"), TABLE_9_1, weight=0.1, width=2.7)
    for key, found in (("ewma_l0.1", chart.average), ("lcl_L2.7", chart.lower), ("ucl_L2.7", chart.upper)):
        np.testing.assert_allclose(found, column("montgomery_table9_1.csv", key), atol=0.005 + 1e-9)
    assert chart.beyond == (28, 29)


def test_nist_cusum() -> None:
    """NIST/SEMATECH handbook 6.3.2.3: printed sums (19.035 printed 19.04), signals at groups 14 to 20."""
    limits = Limits(325.0, 1.0, 100, 1.0, 1.0, 0.0)
    chart = cusum(column("nist_cusum.csv", "xbar"), limits, reference=0.3175, decision=4.1959)
    np.testing.assert_allclose(chart.upper, column("nist_cusum.csv", "Shi_published"), atol=0.005 + 1e-9)
    np.testing.assert_allclose(chart.lower, column("nist_cusum.csv", "Slo_published"), atol=0.005 + 1e-9)
    assert chart.upper[12:16] == pytest.approx([3.0075, 4.94, 7.4475, 10.63])
    assert chart.upper[19] == pytest.approx(19.035)
    assert chart.high == tuple(range(13, 20))
    assert chart.low == ()


def test_montgomery_cusum() -> None:
    """Montgomery, Table 9.1: with k 0.5 and h 5 the upper sum is 5.28 at test 29, having run 7 tests."""
    chart = cusum(column("montgomery_table9_1.csv", "x"), TABLE_9_1, reference=0.5, decision=5.0)
    assert chart.upper[28] == pytest.approx(5.28, abs=0.005)
    assert chart.upper_running[28] == 7
    assert chart.high[0] == 28


@pytest.mark.parametrize("seed", range(6))
def test_charts_equal_their_definitions_with_gaps(seed: int) -> None:
    """Averages, limits and sums by plain loops: a missing test leaves them as they were."""
    random = np.random.default_rng(seed)
    values = random.normal(0.1, 1.0, 25_000 if seed == 0 else 300)
    values[random.random(values.size) < 0.1] = np.nan
    average, shrink, high, low = 0.0, 1.0, 1.5, 1.5
    expected = []
    for value in values:
        if not np.isnan(value):
            average = 0.15 * value + 0.85 * average
            shrink *= 0.85**2
            high, low = max(0.0, high + value - 0.25), max(0.0, low - value - 0.25)
        expected.append((average, 2.5 * np.sqrt(0.15 / 1.85 * (1.0 - shrink)), high, low))
    averages, reach, highs, lows = np.array(expected).T
    smooth = ewma(values, STANDARD, weight=0.15, width=2.5)
    np.testing.assert_allclose(smooth.average, averages, atol=1e-12)
    np.testing.assert_allclose(smooth.upper, reach, atol=1e-12)
    sums = cusum(values, STANDARD, reference=0.25, decision=8.0, head_start=1.5)
    np.testing.assert_allclose(sums.upper, highs, atol=1e-9)
    np.testing.assert_allclose(sums.lower, lows, atol=1e-9)
    assert not set(smooth.beyond) & set(np.flatnonzero(np.isnan(values)).tolist())


def test_nile() -> None:
    """Cobb 1978: the Nile's annual flow keeps one level to 1898 and another from 1899."""
    flow, years = column("nile_flow.csv", "flow"), column("nile_flow.csv", "year")
    assert (flow.size, flow.mean()) == (100, 919.35)
    change = split_point(flow)
    assert years[change.start - 1] == 1898
    assert change.size == pytest.approx(flow[28:].mean() - flow[:28].mean())
    gap = flow.copy()
    gap[[3, 50]] = np.nan
    assert years[split_point(gap).start] == 1899


@pytest.mark.parametrize("seed", range(4))
def test_start_of_a_change_equals_its_definition(seed: int) -> None:
    """Gains of every start by plain sums, with missing tests."""
    random = np.random.default_rng(seed)
    values = random.normal(size=80)
    values[50:] += 1.2
    values[random.random(80) < 0.1] = np.nan
    places = np.flatnonzero(~np.isnan(values))
    steps, ramps = {}, {}
    for start in places.tolist():
        after = places[places >= start]
        distance = after - start + 1.0
        steps[start] = values[after].sum() ** 2 / after.size
        ramps[start] = (distance @ values[after]) ** 2 / (distance @ distance)
    found = change_point(values, STANDARD)
    for gains, change in ((steps, found.step), (ramps, found.ramp)):
        best = max(gains, key=lambda start: gains[start])
        assert change.start == best
        assert change.support == pytest.approx(gains[best] / 2)
        assert change.may_begin == tuple(s for s in gains if gains[best] - gains[s] <= 6.0)


@pytest.mark.parametrize("phi", [0.7, -0.4])
def test_start_of_a_change_among_tests_that_resemble_each_other(phi: float) -> None:
    """Gains and sizes of every start by generalised least squares, with missing tests."""
    values = autoregressive(phi, (1, 60), 3)[0]
    values[40:] += 1.5
    values[[5, 20, 21, 47]] = np.nan
    places = np.flatnonzero(~np.isnan(values))
    gaps = np.abs(places[:, None] - places[None, :])
    inverse = np.linalg.inv(np.sign(phi) ** gaps * np.abs(phi) ** gaps)
    found = change_point(values, STANDARD, phi=phi)
    for change in (found.step, found.ramp):
        gains, sizes = {}, {}
        for start in places.tolist():
            shape = np.where(places < start, 0.0, 1.0 if change is found.step else places - start + 1.0)
            weight = shape @ inverse @ shape
            gains[start] = (shape @ inverse @ values[places]) ** 2 / weight
            sizes[start] = (shape @ inverse @ values[places] / weight, weight**-0.5)
        best = max(gains, key=lambda start: gains[start])
        reach = {s: 1.0 if change is found.step else 60.0 - s for s in gains}
        near = [s for s in gains if gains[best] - gains[s] <= 1.959964**2]
        half = {s: reach[s] * sizes[s][1] * (1.959964**2 - gains[best] + gains[s]) ** 0.5 for s in near}
        come_to = {s: reach[s] * sizes[s][0] for s in near}
        ends = (
            come_to[best],
            min(come_to[s] - half[s] for s in near),
            max(come_to[s] + half[s] for s in near),
        )
        assert change.start == best
        assert change.support == pytest.approx(gains[best] / 2)
        assert change.size == pytest.approx(sizes[best][0])
        assert (change.come_to, change.come_to_low, change.come_to_high) == pytest.approx(ends)
        assert change.may_begin == tuple(s for s in gains if gains[best] - gains[s] <= 6.0)
    by_place = change_point(values[places], STANDARD, phi=abs(phi), at=places * 0.5)
    assert by_place.step.support == pytest.approx(
        change_point(values, STANDARD, phi=abs(phi) ** 0.5).step.support
    )


def test_confidence_set_among_tests_that_resemble_each_other() -> None:
    """Steps of 2 sigmas at phi 0.6, 400 simulated alarms: 90 to 98 % covered, without phi less than 86 %."""
    covered, covered_without = 0, 0
    for values in autoregressive(0.6, (400, 500), 12):
        values[100:] += 2.0
        beyond = np.flatnonzero(np.abs(values) > 3.0)
        until = values[: int(beyond[beyond >= 100][0]) + 1]
        covered += 100 in change_point(until, STANDARD, phi=0.6).step.may_begin
        covered_without += 100 in change_point(until, STANDARD).step.may_begin
    assert 360 <= covered <= 392
    assert covered_without < 344


def test_ramp_is_told_from_step() -> None:
    """A plain ramp is found as one, with its slope and onset; a plain step as a step with its size."""
    values = np.random.default_rng(1).normal(0.0, 1.0, 120)
    ramp = values.copy()
    ramp[80:] += 0.1 * np.arange(1, 41)
    best = change_point(ramp, STANDARD).best
    assert best.shape == "ramp"
    assert best.size == pytest.approx(0.1, rel=0.3)
    assert 80 in best.may_begin
    step = values.copy()
    step[80:] += 2.0
    best = change_point(step, STANDARD).best
    assert best.shape == "step"
    assert best.size == pytest.approx(2.0, rel=0.2)
    assert 80 in best.may_begin


def test_confidence_set_covers_as_often_as_stated() -> None:
    """A step of one sigma, 1000 simulated alarms: the set of depth 3 holds the true start in 87 to 93 %."""
    random = np.random.default_rng(12)
    covered = 0
    for _ in range(1000):
        values = random.normal(size=600)
        values[100:] += 1.0
        beyond = np.flatnonzero(np.abs(values) > 3.0)
        alarm = int(beyond[beyond >= 100][0])
        covered += 100 in change_point(values[: alarm + 1], STANDARD).step.may_begin
    assert 870 <= covered <= 930


def test_impossible_input_is_refused() -> None:
    """A constant baseline, settings out of range, infinite or missing values: a message, never a NaN."""
    for call in (ewma, cusum, change_point):
        with pytest.raises(InputError, match="equal"):
            call([1.0], CONSTANT)  # type: ignore[operator]
        with pytest.raises(InputError, match="infinite"):
            call([np.inf], STANDARD)  # type: ignore[operator]
    for settings in ({"weight": 0.0}, {"weight": 1.1}, {"width": 0.0}, {"width": np.inf}):
        with pytest.raises(InputError):
            ewma([1.0], STANDARD, **settings)
    for settings in ({"reference": -0.1}, {"decision": 0.0}, {"head_start": 9.0}):
        with pytest.raises(InputError):
            cusum([1.0], STANDARD, **settings)
    with pytest.raises(InputError, match="phi"):
        change_point([1.0], STANDARD, phi=1.0)
    with pytest.raises(InputError, match="no test measured"):
        change_point([np.nan, np.nan], STANDARD)
    with pytest.raises(InputError, match="four or more"):
        split_point([1.0, 2.0, np.nan])
    with pytest.raises(InputError, match="no spread"):
        split_point([1.0, 1.0, 2.0, 2.0])


def test_missing_tests_leave_no_holes() -> None:
    """All missing: averages at the centre, sums at their start, nothing flagged."""
    smooth = ewma([np.nan] * 3, STANDARD)
    assert smooth.average.tolist() == [0.0] * 3
    assert smooth.beyond == ()
    sums = cusum([np.nan] * 3, STANDARD, head_start=1.0)
    assert sums.upper.tolist() == [1.0] * 3
    assert (sums.high, sums.low) == ((), ())
