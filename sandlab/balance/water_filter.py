"""The filter of the temper water: what moisture the sand asks for, how far the balance is off, the slope.

State: `demand`, moisture needed at target beside what composition explains; `fresh`, by which the sand from
the cooler is wetter than usual, which comes and goes in hours; `wetter`, the same of the return sand, which
follows as far as it is stirred in the storage; `drift` of the belt probe; `balance`, slow errors of
evaporation and meter; `stop`, of the first batches after a stop; `slope`. A batch whose balance with the
usual return sand gives the moisture w then has

    probe = usual + wetter + drift,    moisture = w + share wetter + balance + stop,
    compactability = target + slope (moisture - demand)

How restless the return sand and how noisy the probe is, is learned from the probe itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp

import numpy as np

from sandlab.balance.composition import Floats
from sandlab.balance.innovations import Innovations
from sandlab.balance.kalman import Doubt, Gaussian, corrected, doubted, moved
from sandlab.balance.log import Log
from sandlab.balance.stream import HOUR_US, PlantModel

DEMAND, WETTER, FRESH, DRIFT, BALANCE, STOP, SLOPE = range(7)
STATES = 7
SLOPE_SD = 7.0
LOWEST_SLOPE, HIGHEST_SLOPE = 12.0, 50.0
SHARE = 0.97  # of the return sand's moisture that reaches the batch
BATCH_SCATTER = 0.02  # % moisture of one batch: water feeder, mixing
LEARNING = 0.01  # of one probe reading in the sizes of its noise and of the unrest
TEST_LEARNING = 0.015  # of one compactability test in the unrest, where there is no probe
UNREST = (0.1, 6.0)
NOISE = (0.2, 6.0)


@dataclass(frozen=True, slots=True)
class Wander:
    """Priors of the water: standard deviations in % moisture, memories in hours, walks in one hour.

    fresh, fresh_memory_h: of the sand from the cooler
    stirred: share of the stock that the return sand is mixed with [-]
    rough: what comes to the return sand unstirred, walk in one hour
    """

    demand: float = 0.5
    demand_walk: float = 0.015
    fresh: float = 0.16
    fresh_memory_h: float = 3.5
    stirred: float = 0.4
    rough: float = 0.06
    drift: float = 0.10
    drift_memory_h: float = 80.0
    probe: float = 0.07
    balance: float = 0.3
    balance_walk: float = 0.02
    stop: float = 0.12
    slope_walk: float = 0.05


@dataclass(frozen=True, slots=True)
class Made:
    """One batch to the water filter.

    moisture: by the balance from the water logged, with the usual return sand [% of moist]
    demand: by composition, without the filter's own part [%]
    first: share of a first batch after a stop, 1 to 0 [-]
    probe: moisture of the return sand by the probe above the usual, None without [%]
    """

    moisture: float
    demand: float
    first: float
    probe: float | None


@dataclass(frozen=True, slots=True)
class WaterState:
    """The filter before or after the results of one batch.

    unrest, noise: factors on the variances of the return sand's wander and of the probe
    last: the probe's last innovation in its own sd
    doubts: results beyond the gate, newest last
    """

    gaussian: Gaussian
    unrest: float = 1.0
    noise: float = 1.0
    last: float = 0.0
    doubts: tuple[Doubt, ...] = ()


class WaterFilter:
    """Process and measurements of the temper water of one plant."""

    def __init__(self, plant: PlantModel, log: Log, wander: Wander) -> None:
        self.plant, self.log, self.wander = plant, log, wander
        self.made: dict[int, Made] = {}
        self.met = Innovations()
        self.target = next(t.target for t in plant.targets if t.property == "compactability")
        self.stirred_h = wander.stirred * 1000.0 * plant.stock_t / log.usual_dry_kg / plant.batches_per_h

    def start(self) -> WaterState:
        """What is known before the first batch."""
        w = self.wander
        sd = np.array([w.demand, w.fresh, w.fresh, w.drift, w.balance, w.stop, SLOPE_SD])
        mean = np.zeros(STATES)
        mean[SLOPE] = self.plant.slope
        return WaterState(Gaussian(mean, np.diag(sd**2)))

    def measure(self, state: WaterState, index: int) -> WaterState:
        """The state after the probe of one batch and the results of its sand."""
        self.met.begin(index)
        made = self.made.get(self.log.at[index])
        if made is None:
            return state
        if made.probe is not None:
            state = self.probed(state, made.probe)
        gaussian = state.gaussian
        doubts = state.doubts
        for taken, name, value, _, doubtful in self.log.results_of(index):
            lab = self.plant.lab(name)
            if lab is None or name not in ("compactability", "moisture", "return_moisture"):
                continue
            expected, row, scatter = self._view(name, gaussian.mean, made)
            variance = lab.sd**2 * (4.0 if doubtful else 1.0) + scatter**2
            step = corrected(gaussian, value - expected, row, variance)
            self.met.add(taken, name, value, step.innovation)
            gaussian, doubts = step.state, doubted(doubts, taken, name, value, step.innovation)
            gaussian.mean[SLOPE] = min(max(gaussian.mean[SLOPE], LOWEST_SLOPE), HIGHEST_SLOPE)
            if made.probe is None and name == "compactability":
                state = _restless(state, step.innovation, TEST_LEARNING)
        return replace(state, gaussian=gaussian, doubts=doubts)

    def probed(self, state: WaterState, reading: float) -> WaterState:
        """The state after one reading of the probe, above the usual moisture; noise and unrest learn."""
        row = np.zeros(STATES)
        row[WETTER] = row[DRIFT] = 1.0
        innovation = reading - float(state.gaussian.mean[WETTER] + state.gaussian.mean[DRIFT])
        step = corrected(state.gaussian, innovation, row, state.noise * self.wander.probe**2)
        state = _restless(replace(state, gaussian=step.state), step.innovation, LEARNING)
        # wider than thought: the probe is noisier
        noise = state.noise * exp(LEARNING * (state.last**2 - 1.0))
        return replace(state, noise=min(max(noise, NOISE[0]), NOISE[1]))

    def _view(self, name: str, mean: Floats, made: Made) -> tuple[float, Floats, float]:
        """Expected value of a result, its derivative by the state, and the scatter of a single batch."""
        row = np.zeros(STATES)
        if name == "return_moisture":
            row[WETTER] = 1.0
            return self.plant.muller.return_moisture + float(mean[WETTER]), row, 0.03
        row[WETTER], row[BALANCE], row[STOP] = SHARE, 1.0, made.first
        moisture = made.moisture + float(row @ mean)
        if name == "moisture":
            return moisture, row, BATCH_SCATTER
        slope, over = float(mean[SLOPE]), moisture - made.demand - float(mean[DEMAND])
        row[DEMAND] = -1.0
        row = row * slope
        row[SLOPE] = over
        return self.target + slope * over, row, BATCH_SCATTER * slope

    def step(self, state: WaterState, index: int) -> WaterState:
        """The state before the next batch."""
        at = self.log.at
        hours = 1.0 / self.plant.batches_per_h
        if index + 1 < len(at):
            hours = (at[index + 1] - at[index]) / HOUR_US
        return self.later(state, hours)

    def later(self, state: WaterState, hours: float) -> WaterState:
        """The state so many hours later; a stop is no longer than a shift to what wanders."""
        w, running = self.wander, min(hours, 8.0)
        fresh, drift = exp(-hours / w.fresh_memory_h), exp(-hours / w.drift_memory_h)
        stays = exp(-hours / self.stirred_h)
        transition = np.diag([1.0, stays, fresh, drift, 1.0, 1.0, 1.0])
        transition[WETTER, FRESH] = 1.0 - stays
        added = np.array(
            [
                w.demand_walk**2 * running,
                state.unrest * w.rough**2 * running,
                state.unrest * w.fresh**2 * (1.0 - fresh * fresh),
                w.drift**2 * (1.0 - drift * drift),
                w.balance_walk**2 * running,
                0.0,
                w.slope_walk**2 * running,
            ]
        )
        mean = transition @ state.gaussian.mean
        return replace(state, gaussian=moved(state.gaussian, transition, mean, added))

    def wanted(self, state: WaterState, demand: float, first: float) -> tuple[float, float]:
        """Moisture by the balance at which a batch meets its target, and its sd [% of moist]."""
        row = np.zeros(STATES)
        row[DEMAND], row[WETTER], row[BALANCE], row[STOP] = 1.0, -SHARE, -1.0, -first
        return demand + float(row @ state.gaussian.mean), state.gaussian.of(row)


def _restless(state: WaterState, innovation: float, learning: float) -> WaterState:
    """The unrest after an innovation: of one sign with the last one, the sand moves more than thought."""
    now = min(max(innovation, -3.0), 3.0)
    unrest = state.unrest * exp(learning * now * state.last)
    return replace(state, unrest=min(max(unrest, UNREST[0]), UNREST[1]), last=now)
