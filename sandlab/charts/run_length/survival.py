"""The run length of a chart as a distribution: the share of runs still without an alarm after each test."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice

import numpy as np

from sandlab.charts.normal import Floats
from sandlab.errors import impossible

# Charts forget their start within this many tests or keep telling so.
_SETTLED, _LONGEST = 64, 20_000
_SAME_RISK = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class RunLengthDistribution:
    """How many tests a chart runs until its alarm.

    `surviving[t]` is the share of runs without an alarm after t tests; past its end each test keeps the share
    `fade` of them. `standard_error` is that of the mean: 0 where equations were solved, not runs simulated.
    """

    surviving: Floats
    fade: float
    standard_error: float = 0.0

    @property
    def mean(self) -> float:
        """The average run length."""
        last = float(self.surviving[-1])
        beyond = last / (1.0 - self.fade) if last > 0.0 else 0.0
        return float(self.surviving[:-1].sum()) + beyond

    @property
    def median(self) -> float:
        """Half of the runs end by this test."""
        return self.quantile(0.5)

    def quantile(self, share: float) -> float:
        """The number of tests by which `share` of the runs have ended, a share above 0 and below 1."""
        if not 0.0 < share < 1.0:
            raise impossible("share of runs", f"{share}", "give a value between 0 and 1, such as 0.5")
        left = 1.0 - share
        done = np.flatnonzero(self.surviving <= left + 1e-12)
        if done.size:
            return float(done[0])
        further = math.log(left / float(self.surviving[-1])) / math.log(self.fade)
        return float(self.surviving.size - 1 + math.ceil(further - 1e-9))

    def within(self, tests: int) -> float:
        """The share of runs that end within so many tests."""
        if tests < 0:
            raise impossible("tests", f"{tests}", "give 0 or more")
        last = self.surviving.size - 1
        if tests <= last:
            return 1.0 - float(self.surviving[tests])
        return 1.0 - float(self.surviving[-1]) * self.fade ** (tests - last)


def shares_left(first: Floats, moves: Floats) -> Iterator[float]:
    """The share of runs left after each test: `first` holds where test 1 leads, `moves` where the next."""
    carried = first
    while True:
        yield float(carried.sum())
        carried = carried @ moves


def settle(shares: Iterable[float]) -> RunLengthDistribution:
    """The distribution from the shares of runs left after each test, followed until the risk is steady."""
    surviving, fade, before = [1.0], 1.0, 2.0
    for count, share in enumerate(islice(shares, _LONGEST), start=1):
        surviving.append(share)
        if share < 1e-15:
            return RunLengthDistribution(np.array([*surviving[:-1], 0.0]), 0.0)
        fade = share / surviving[-2]
        change = abs(fade - before)
        if count >= _SETTLED and fade < 1.0 and change <= max(4e-16, _SAME_RISK * (1.0 - fade)):
            break
        before = fade
    return RunLengthDistribution(np.array(surviving), min(fade, 1.0 - 1e-15))


def two_sided(upper: tuple[Floats, Floats, Floats], lower: tuple[Floats, Floats, Floats]) -> Iterator[float]:
    """The shares left of two sums of which one is always at 0 when the other alarms.

    Each triple holds where test 1 leads from the head start, where it leads from 0, and the next moves.
    ``a_t = g_t - sum b_j g0_t-j, b_t = f_t - sum a_j f0_t-j``: chances that the upper, the lower sum alarms
    first, at test t; g, f from the head start and g0, f0 from 0 are those of each sum alone
    """
    alone = [_ends(shares_left(first, upper[2])) for first in upper[:2]]
    alone += [_ends(shares_left(first, lower[2])) for first in lower[:2]]
    left = 1.0
    by_upper, by_lower = np.zeros(_LONGEST), np.zeros(_LONGEST)
    # Backwards, so that each sum is one product of rows.
    upper_zero, lower_zero = np.zeros(_LONGEST), np.zeros(_LONGEST)
    for test in range(_LONGEST):
        upper_start, upper_zero[-1 - test], lower_start, lower_zero[-1 - test] = (
            next(ends) for ends in alone
        )
        earlier = slice(_LONGEST - test, _LONGEST)
        by_upper[test] = upper_start - float(by_lower[:test] @ upper_zero[earlier])
        by_lower[test] = lower_start - float(by_upper[:test] @ lower_zero[earlier])
        left -= float(by_upper[test] + by_lower[test])
        yield left


def _ends(shares: Iterator[float]) -> Iterator[float]:
    """The share of runs that end at test 1, 2, ..."""
    before = 1.0
    for share in shares:
        yield before - share
        before = share
