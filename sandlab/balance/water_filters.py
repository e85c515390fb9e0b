"""Filters of the temper water side by side: which of them a plant resembles is learned from its tests.

How quickly the cooler's sand changes, and how well moisture is tested, differs from plant to plant. Without
a belt probe filters of different plants run side by side; filter i foresees the results y with density
p_i(y | before), and by Bayes' rule has the weight

    w_i = exp(l_i) / sum exp(l_j),    l_i = sum log p_i(y | before), slowly forgotten,

and what is known is the mixture: mean m = sum w_i m_i, covariance sum w_i (P_i + (m_i - m)(m_i - m)').
Source: multiple-model estimation (Magill 1965), from memory. A belt probe tells more of the return sand than
any prior: with one, a single filter follows it.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np

from sandlab.balance.composition import Floats
from sandlab.balance.innovations import Innovation
from sandlab.balance.kalman import Gaussian
from sandlab.balance.log import Log
from sandlab.balance.stream import PlantModel
from sandlab.balance.water_filter import Made, Wander, WaterFilter, WaterState

States = tuple[WaterState, ...]
# Coolers, calm and slow or lively and quick: sd of the sand from the cooler [%], its memory [h].
COOLERS = ((0.12, 5.0), (0.20, 2.0))
MOISTURE_TESTS = (0.9, 1.4)  # sd of moisture tests over the usual one
BALANCE_WALK = 0.006  # % moisture in one hour
WITHOUT_PROBE = 20  # batches without a reading after which a probe is taken to be out


class WaterFilters:
    """One filter with a belt probe, several without."""

    def __init__(self, plant: PlantModel, log: Log, wander: Wander) -> None:
        self.log = log
        self.made: dict[int, Made] = {}
        self.alone = WaterFilter(plant, log, wander, self.made)
        calm = replace(wander, balance_walk=BALANCE_WALK, rough=0.0)
        self.several = tuple(
            WaterFilter(
                plant,
                log,
                replace(calm, fresh=fresh, fresh_memory_h=memory_h, moisture_tests=tests),
                self.made,
            )
            for (fresh, memory_h), tests in product(COOLERS, MOISTURE_TESTS)
        )

    def start(self) -> States:
        """What is known before the first batch."""
        return (self.alone.start(),)

    def measure(self, states: States, index: int) -> States:
        """The states after the probe of one batch and the results of its sand."""
        if self._probed(index):
            states = (blended(states),)
        elif len(states) == 1:
            states = (replace(states[0], fit=0.0, unrest=1.0),) * len(self.several)
        return tuple(one.measure(state, index) for one, state in self._pairs(states))

    def step(self, states: States, index: int) -> States:
        """The states before the next batch."""
        return tuple(one.step(state, index) for one, state in self._pairs(states))

    def later(self, states: States, hours: float) -> WaterState:
        """What is known so many hours later."""
        return blended(tuple(one.later(state, hours) for one, state in self._pairs(states)))

    def met(self, states: States) -> list[Innovation]:
        """The innovations of the filter that fits best."""
        best = max(self._pairs(states), key=lambda pair: pair[1].fit)[0]
        return best.met.all()

    def _pairs(self, states: States) -> list[tuple[WaterFilter, WaterState]]:
        filters = (self.alone,) if len(states) == 1 else self.several
        return list(zip(filters, states, strict=True))

    def _probed(self, index: int) -> bool:
        """Whether a probe has told of one of the last batches."""
        last = (self.made.get(at_us) for at_us in self.log.at[max(0, index - WITHOUT_PROBE) : index + 1])
        return any(made is not None and made.probe is not None for made in last)


def weights(states: States) -> Floats:
    """How likely each filter is, shape (n,) [-]."""
    fits = np.array([state.fit for state in states])
    likely = np.exp(fits - fits.max())
    return np.asarray(likely / likely.sum())


def blended(states: States) -> WaterState:
    """The states as one: moments of the mixture, the rest from the filter that fits best."""
    if len(states) == 1:
        return states[0]
    shares = weights(states)
    means = np.array([state.gaussian.mean for state in states])
    covariances = np.array([state.gaussian.covariance for state in states])
    mean = shares @ means
    apart = means - mean
    covariance = np.tensordot(shares, covariances, 1) + (shares[:, None] * apart).T @ apart
    return replace(states[int(shares.argmax())], gaussian=Gaussian(mean, covariance))
