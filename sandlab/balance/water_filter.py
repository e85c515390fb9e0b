"""The filter of the temper water: what moisture the sand asks for, how far the balance is off, the slope.

State: `demand`, moisture needed at target beside what composition explains; `fresh`, by which the sand from
the cooler is wetter than usual, which comes and goes in hours; `wetter`, the same of the return sand, which
follows as far as it is stirred in the storage; `drift` of the belt probe; `balance`, slow errors of
evaporation and meter; `stop`, of the first batches after a stop; `slope`; `bond`, working bond [%]. A batch
whose balance with the usual return sand gives the moisture w then has

    probe = usual + wetter + drift,    moisture = w + share wetter + balance + stop,
    compactability = target + slope (moisture - demand),
    green compression strength = 6.895 bond (132.1 - compactability) / 15.29    (ICRI report 610)

so that a strength, as quick as a compactability, tells of the water too: too wet is too weak. How restless
the return sand and how noisy the probe is, is learned from the probe itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, log, sqrt

import numpy as np

from sandlab.balance.composition import Floats
from sandlab.balance.innovations import Innovations
from sandlab.balance.kalman import GATE, Doubt, Gaussian, corrected, doubted, moved
from sandlab.balance.log import Log
from sandlab.balance.stream import HOUR_US, PlantModel
from sandlab.balance.views import BOND_EXTRA, KPA_PER_PSI
from sandlab.methods.indices import WORKING_BOND_POLE

DEMAND, WETTER, FRESH, DRIFT, BALANCE, STOP, SLOPE, BOND = range(8)
STATES = 8
STRENGTH = "green_compression_strength"
TESTS = ("compactability", STRENGTH, "moisture", "return_moisture")
KPA_PER_BOND = KPA_PER_PSI / 15.29  # and point of compactability below the pole
USUAL_CLAY = 8.0  # % active clay, where a plant has no target
BOND_SD, BOND_WALK = 0.35, 0.007  # of the bond; of it in one hour
SLOPE_SD = 7.0
LOWEST_SLOPE, HIGHEST_SLOPE = 12.0, 50.0
SHARE = 0.97  # of the return sand's moisture that reaches the batch
BATCH_SCATTER = 0.02  # % moisture of one batch: water feeder, mixing
LEARNING = 0.01  # of one probe reading in the sizes of its noise and of the unrest
TEST_LEARNING = 0.015  # of one compactability test in the unrest, where there is no probe
FORGOTTEN_H = 500.0  # of running after which a result hardly tells which filter fits
UNREST = (0.1, 6.0)
NOISE = (0.2, 6.0)


@dataclass(frozen=True, slots=True)
class Wander:
    """Priors of the water: standard deviations in % moisture, memories in hours, walks in one hour.

    fresh, fresh_memory_h: of the sand from the cooler
    stirred: share of the stock that the return sand is mixed with [-]
    rough: what comes to the return sand unstirred, walk in one hour
    moisture_tests: sd of the moisture tests as a share of the laboratory's usual one [-]
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
    moisture_tests: float = 1.0


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
    fit: logarithm of how likely the results of the last weeks were by this filter
    """

    gaussian: Gaussian
    unrest: float = 1.0
    noise: float = 1.0
    last: float = 0.0
    doubts: tuple[Doubt, ...] = ()
    fit: float = 0.0


class WaterFilter:
    """Process and measurements of the temper water of one plant."""

    def __init__(
        self, plant: PlantModel, log: Log, wander: Wander, made: dict[int, Made] | None = None
    ) -> None:
        self.plant, self.log, self.wander = plant, log, wander
        self.made: dict[int, Made] = {} if made is None else made
        self.met = Innovations()
        self.target = next(t.target for t in plant.targets if t.property == "compactability")
        self.stirred_h = wander.stirred * 1000.0 * plant.stock_t / log.usual_dry_kg / plant.batches_per_h
        clay = next((t.target for t in plant.targets if t.property == "active_clay"), USUAL_CLAY)
        self.usual_bond = plant.bond * clay
        self._move: tuple[float, Floats, Floats, Floats] | None = None

    def start(self) -> WaterState:
        """What is known before the first batch."""
        w = self.wander
        sd = np.array(
            [w.demand, w.fresh, w.fresh, w.drift, w.balance, w.stop, SLOPE_SD, BOND_SD * self.usual_bond]
        )
        mean = np.zeros(STATES)
        mean[SLOPE], mean[BOND] = self.plant.slope, self.usual_bond
        return WaterState(Gaussian(mean, np.diag(sd**2)))

    def measure(self, state: WaterState, index: int) -> WaterState:
        """The state after the probe of one batch and the results of its sand."""
        self.met.begin(index)
        made = self.made.get(self.log.at[index])
        if made is None:
            return state
        if made.probe is not None:
            state = self.probed(state, made.probe)
        results = self.log.results_of(index)
        if not results:
            return state
        gaussian, doubts, fit = state.gaussian, state.doubts, state.fit
        for taken, name, value, _, doubtful in results:
            lab = self.plant.lab(name)
            if lab is None or name not in TESTS:
                continue
            expected, row, scatter = self._view(name, gaussian.mean, made)
            variance = (lab.sd * self._share(name)) ** 2 * (4.0 if doubtful else 1.0) + scatter**2
            fit += _likely(value - expected, gaussian.of(row) ** 2 + variance)
            step = corrected(gaussian, value - expected, row, variance)
            gaussian = step.state
            gaussian.mean[SLOPE] = min(max(gaussian.mean[SLOPE], LOWEST_SLOPE), HIGHEST_SLOPE)
            if name != STRENGTH:  # the sand's filter tells of it
                self.met.add(taken, name, value, step.innovation)
                doubts = doubted(doubts, taken, name, value, step.innovation)
            if made.probe is None and name == "compactability":
                state = _restless(state, step.innovation, TEST_LEARNING)
        return replace(state, gaussian=gaussian, doubts=doubts, fit=fit)

    def _share(self, name: str) -> float:
        """What the sd of a kind of test is multiplied with."""
        if name == STRENGTH:
            return BOND_EXTRA
        return self.wander.moisture_tests if name != "compactability" else 1.0

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
        if name == "compactability":
            return self.target + slope * over, row, BATCH_SCATTER * slope
        weaker, room = KPA_PER_BOND * float(mean[BOND]), WORKING_BOND_POLE - self.target - slope * over
        row = -weaker * row
        row[BOND] = KPA_PER_BOND * room
        return weaker * room, row, BATCH_SCATTER * slope * weaker

    def step(self, state: WaterState, index: int) -> WaterState:
        """The state before the next batch."""
        at = self.log.at
        hours = 1.0 / self.plant.batches_per_h
        if index + 1 < len(at):
            hours = (at[index + 1] - at[index]) / HOUR_US
        return self.later(state, hours)

    def later(self, state: WaterState, hours: float) -> WaterState:
        """The state so many hours later; a stop is no longer than a shift to what wanders."""
        if self._move is None or self._move[0] != hours:
            self._move = (hours, *self._moved(hours))
        _, transition, steady, restless = self._move
        mean = transition @ state.gaussian.mean
        added = steady + state.unrest * restless
        fit = state.fit * exp(-min(hours, 8.0) / FORGOTTEN_H)
        return replace(state, gaussian=moved(state.gaussian, transition, mean, added), fit=fit)

    def _moved(self, hours: float) -> tuple[Floats, Floats, Floats]:
        """Transition, and variances added, those of unrest 1 apart."""
        w, running = self.wander, min(hours, 8.0)
        fresh, drift = exp(-hours / w.fresh_memory_h), exp(-hours / w.drift_memory_h)
        stays = exp(-hours / self.stirred_h)
        transition = np.diag([1.0, stays, fresh, drift, 1.0, 1.0, 1.0, 1.0])
        transition[WETTER, FRESH] = 1.0 - stays
        steady, restless = np.zeros(STATES), np.zeros(STATES)
        steady[DEMAND] = w.demand_walk**2 * running
        steady[DRIFT] = w.drift**2 * (1.0 - drift * drift)
        steady[BALANCE] = w.balance_walk**2 * running
        steady[SLOPE] = w.slope_walk**2 * running
        steady[BOND] = (BOND_WALK * self.usual_bond) ** 2 * running
        restless[WETTER] = w.rough**2 * running
        restless[FRESH] = w.fresh**2 * (1.0 - fresh * fresh)
        return transition, steady, restless

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


def _likely(innovation: float, variance: float) -> float:
    """Logarithm of how likely an innovation was, up to a constant; beyond the gate it falls no steeper."""
    distance = abs(innovation) / sqrt(variance)
    short = 0.5 * distance**2 if distance < GATE else GATE * (distance - 0.5 * GATE)
    return -0.5 * log(variance) - short
