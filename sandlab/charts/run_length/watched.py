"""How often a chart alarms that watches single tests and beside them a moving average of their residuals."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sandlab.charts.baseline import Limits
from sandlab.charts.normal import Floats
from sandlab.charts.rules import completions
from sandlab.charts.run_length.simulation import Random

# Alarms of one chart within so many tests of each other are one.
ONE_ALARM = 10
# Odd tests count up to this many sigmas in the average.
FARTHEST = 4.0
_STREAMS, _TESTS, _SETTLING = 400, 500, 50


@dataclass(frozen=True, slots=True, eq=False)
class WatchedTests:
    """Simulated tests in true sigmas, stream after stream with holes (NaN) between, and their average.

    `average` is in its own sigmas, were the residuals independent; `settled` is what it comes to when every
    test lies one sigma higher.
    """

    tests: Floats
    average: Floats
    settled: float

    def tests_between(
        self, rules: Iterable[str], width: float, average_width: float, *, offset: float, scale: float
    ) -> float:
        """Mean tests from one alarm to the next of limits whose centre is off, and whose sigma is a share.

        An alarm is a rule completed or the average outside; those within ten tests of each other are one.
        """
        keys = tuple(rules)
        alarms = np.abs(self.average - offset * self.settled) > average_width * scale
        if keys == ("beyond_limit",):
            alarms |= np.abs(self.tests - offset) > width * scale
        else:
            limits = Limits(offset, scale, 100, scale, scale, 0.0, width=width)
            for completed in completions(self.tests, limits, rules=keys).values():
                for places in (completed.up, completed.down, completed.both):
                    alarms[places] = True
        places = np.flatnonzero(alarms)
        # Half an alarm more, so that none at all is no endless time.
        count = np.count_nonzero(np.diff(places, prepend=-ONE_ALARM - 1) > ONE_ALARM)
        return _STREAMS * _TESTS / (count + 0.5)


def watched_tests(
    random: Random, *, phi: float, signal_share: float, model: tuple[float, float], weight: float
) -> WatchedTests:
    """Simulate tests that resemble each other, and the EWMA of their residuals from a model of them.

    ``x = sqrt(share) s + sqrt(1 - share) e, s_t = phi s_t-1 + sqrt(1 - phi^2) e'_t``
    ``r_t = (x_t - p_t)/sqrt(F), p_t+1 = a (p_t + g (x_t - p_t)), z_t = w r_t + (1 - w) z_t-1``

    `model` is the phi and the signal share a, g and F suppose, which need not be those of the tests: a chart
    that takes noise of testing for none leaves residuals that still resemble each other.
    """
    carry, gain, spread = _steady_filter(*model)
    signal = random.standard_normal((1, _STREAMS))[0]
    predicted, average = np.zeros((2, _STREAMS))
    tests, averages = np.empty((2, _SETTLING + _TESTS, _STREAMS))
    steps = random.standard_normal((_SETTLING + _TESTS, _STREAMS)) * math.sqrt(1.0 - phi * phi)
    if signal_share < 1.0:
        noise = random.standard_normal((_SETTLING + _TESTS, _STREAMS)) * math.sqrt(1.0 - signal_share)
    else:
        noise = np.zeros_like(steps)
    root, drawn_in = math.sqrt(signal_share), FARTHEST * spread
    for test in range(_SETTLING + _TESTS):
        signal = phi * signal + steps[test]
        value = root * signal + noise[test]
        missed = value - predicted
        predicted = carry * (predicted + gain * missed)
        average = average + weight * (np.clip(missed, -drawn_in, drawn_in) - average)
        tests[test], averages[test] = value, average
    steady = spread * math.sqrt(weight / (2.0 - weight))
    settled = shown_of_a_shift(*model) * spread / steady
    return WatchedTests(_in_line(tests), _in_line(averages) / steady, settled)


def shown_of_a_shift(phi: float, signal_share: float = 1.0) -> float:
    """What residuals, in deviations of prediction, come to once all tests lie one sigma higher."""
    carry, gain, spread = _steady_filter(phi, signal_share)
    # The filter comes to predict a g/(1 - a (1 - g)) of the shift.
    return (1.0 - carry * gain / (1.0 - carry * (1.0 - gain))) / spread


@lru_cache(maxsize=64)
def _steady_filter(phi: float, signal_share: float) -> tuple[float, float, float]:
    """Carry, gain and deviation of prediction of the Kalman filter once it has settled."""
    noise = 1.0 - signal_share
    uncertain = signal_share
    for _ in range(500):
        left = uncertain * noise / (uncertain + noise) if noise else 0.0
        uncertain = phi * phi * left + (1.0 - phi * phi) * signal_share
    spread = uncertain + noise
    return phi, uncertain / spread, math.sqrt(spread)


def _in_line(rows: Floats) -> Floats:
    """Streams one after the other, as many holes between them as keep their alarms apart."""
    streams = rows[_SETTLING:].T
    return np.pad(streams, ((0, 0), (0, ONE_ALARM + 1)), constant_values=math.nan).ravel()
