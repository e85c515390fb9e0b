"""Limits and a moving average watched side by side: printed and solved run lengths, the charts themselves."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sandlab.charts import ChartInUse, Limits, false_alarms, individuals_alarm_rate_ar1
from sandlab.charts.ewma import ewma
from sandlab.charts.normal import density, nodes_between
from sandlab.charts.residuals import KnownResemblance, residuals
from sandlab.charts.run_length.watched import ONE_ALARM, WatchedTests, watched_tests

BEYOND = ("beyond_limit",)
# Simulations of one figure, and the standard error that so many alarms leave: they come one by one.
TIMES = 5


def between(found: list[WatchedTests], width: float, average_width: float) -> tuple[float, float]:
    """Mean tests between alarms with its standard error."""
    each = [one.tests_between(BEYOND, width, average_width, offset=0.0, scale=1.0) for one in found]
    mean = 1.0 / float(np.mean([1.0 / one for one in each]))
    alarms = sum(np.count_nonzero(~np.isnan(one.tests)) for one in found) / mean
    return mean, mean / math.sqrt(alarms)


def simulated(
    phi: float, share: float, model: tuple[float, float], seed: int, *, weight: float = 0.2
) -> list[WatchedTests]:
    """So many simulations of the same tests."""
    random = np.random.default_rng(seed)
    return [
        watched_tests(random, phi=phi, signal_share=share, model=model, weight=weight) for _ in range(TIMES)
    ]


def test_average_alone_has_the_printed_run_length() -> None:
    """Weight 0.25 and width 2.76: 250 tests (Crowder 1989, design tables), with limits out of reach.

    From one alarm to the next an alarm's own length is counted too, some tests in 250.
    """
    mean, error = between(simulated(0.0, 1.0, (0.0, 1.0), 1, weight=0.25), 6.0, 2.76)
    assert abs(mean - 253.0) < 3.0 * error


def test_limits_alone_have_the_solved_run_length() -> None:
    """Noisy tests between limits: the integral equation, with an average out of reach."""
    mean, error = between(simulated(0.9, 0.5, (0.45, 1.0), 2), 3.0, 9.0)
    solved = individuals_alarm_rate_ar1(0.9, 3.0, signal_share=0.5).average_run_length
    assert abs(mean - solved) < 3.0 * error


def joint_run_length(weight: float, width: float, average_width: float) -> float:
    """Independent tests: the integral equation of the average over tests between the limits (derived)."""
    half = average_width * math.sqrt(weight / (2.0 - weight))
    nodes, weights = nodes_between(-half, half, 400)
    test = (nodes[None, :] - (1.0 - weight) * nodes[:, None]) / weight
    moves = np.where(np.abs(test) < width, density(test), 0.0) / weight * weights
    start = np.where(np.abs(nodes / weight) < width, density(nodes / weight), 0.0) / weight * weights
    lengths = np.linalg.solve(np.eye(nodes.size) - moves, np.ones(nodes.size))
    return 1.0 + float(start @ lengths)


def test_both_alarm_together_as_their_equation_says() -> None:
    """First alarms of each stream: as the equation, more rarely than by the rates added, which alarm at once.

    From alarm to alarm it is a little longer: what a point beyond the limits leaves in the average makes
    that alarm soon after, and those count as one.
    """
    found = simulated(0.0, 1.0, (0.0, 1.0), 3)
    exposure = ended = 0
    for one in found:
        alarms = (np.abs(one.tests) > 3.0) | (np.abs(one.average) > 2.86)
        streams = np.flatnonzero(np.isnan(one.tests))[ONE_ALARM] + 1
        rows = alarms.reshape(-1, streams)
        alarmed = rows.any(axis=1)
        ended += int(alarmed.sum())
        exposure += int(np.where(alarmed, rows.argmax(axis=1) + 1, streams - ONE_ALARM - 1).sum())
    solved = joint_run_length(0.2, 3.0, 2.86)
    assert exposure / ended == pytest.approx(solved, rel=3.0 / math.sqrt(ended))
    assert 1.0 < between(found, 3.0, 2.86)[0] / solved < 1.12
    assert solved > 1.1 / (1.0 / 370.4 + 1.0 / 366.0)


@pytest.mark.parametrize(("phi", "share"), [(0.93, 0.3), (0.7, 1.0), (0.95, 0.2)])
def test_stated_rate_is_that_of_the_charts(phi: float, share: float) -> None:
    """The charts of the library on 300,000 simulated tests: as often as stated, within 4 standard errors.

    The residuals suppose the lag-1 autocorrelation and no noise, as the charts of a plant do.
    """
    from scipy.signal import lfilter

    random, count = np.random.default_rng(8), 300_000
    signal = lfilter([math.sqrt(1.0 - phi * phi)], [1.0, -phi], random.standard_normal(count + 100))[100:]
    tests = math.sqrt(share) * signal + math.sqrt(1.0 - share) * random.standard_normal(count)
    carry = share * phi
    found = residuals(tests, KnownResemblance(carry, 0.0, 1.0, 1000))[0]
    average = ewma(np.clip(found, -4.0, 4.0), Limits(0.0, 1.0, 1000, 1.0, 1.0, 0.0), weight=0.2, width=2.86)
    alarming = np.union1d(np.flatnonzero(np.abs(tests) > 3.0), np.array(average.beyond))
    alarms = 1 + np.count_nonzero(np.diff(alarming) > ONE_ALARM)
    chart = ChartInUse("GCS", 1.0, phi=phi, signal_share=share, ewma=(0.2, 2.86), model=(carry, 1.0))
    stated = false_alarms([chart], random=np.random.default_rng(4)).days
    # Both figures come from simulation: alarms of 300,000 tests and of 200,000.
    error = math.sqrt(1.0 / alarms + stated / 200_000)
    assert stated == pytest.approx(count / alarms, rel=4.0 * error)
    if share < 1.0:
        pure = ChartInUse("GCS", 1.0, phi=carry, ewma=(0.2, 2.86))
        hopeful = false_alarms([pure], random=np.random.default_rng(4)).days
        assert hopeful > (1.0 + 4.0 * error) * count / alarms
