"""The filter of the temper water: what moisture the sand asks for, how far the balance is off, the slope.

State: `demand`, moisture needed at target beside what composition explains; `return_error`, by which the
return sand is wetter than the probe or the usual value says, which comes and goes in hours; `balance_error`,
slow, of evaporation and water meter; `stop`, of the first batches after a stop; `slope`. A batch of moisture
w by the balance then has

    moisture = w + return_error + balance_error + stop,    compactability = target + slope (moisture - demand)
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

import numpy as np

from sandlab.balance.composition import Floats
from sandlab.balance.kalman import Gaussian, corrected, moved
from sandlab.balance.log import Log
from sandlab.balance.stream import HOUR_US, PlantModel

DEMAND, RETURN_ERROR, BALANCE_ERROR, STOP, SLOPE = range(5)
STATES = 5
SLOPE_SD = 7.0
LOWEST_SLOPE, HIGHEST_SLOPE = 12.0, 50.0
GREATEST_CALM, LEAST_CALM = 4.0, 0.25  # how far the return sand's unrest may be found from its prior


@dataclass(frozen=True, slots=True)
class Wander:
    """Priors of the water: standard deviations in % moisture, hours, and walks in one hour of running.

    probed, bare: return error with and without probes, sd; memory_h: how long it lasts
    """

    demand: float = 0.5
    demand_walk: float = 0.015
    balance: float = 0.3
    balance_walk: float = 0.02
    stop: float = 0.12
    probed: float = 0.10
    probed_memory_h: float = 5.0
    bare: float = 0.20
    bare_memory_h: float = 3.0
    slope_walk: float = 0.05


@dataclass(frozen=True, slots=True)
class Made:
    """One batch to the water filter.

    moisture: by the balance from the water logged [% of moist]
    demand: by composition, without the filter's own part [%]
    assumed: moisture of the return sand that the balance used [%]
    first: share of a first batch after a stop, 1 to 0 [-]
    probed: whether a probe gave the return moisture
    """

    moisture: float
    demand: float
    assumed: float
    first: float
    probed: bool


@dataclass(frozen=True, slots=True)
class WaterState:
    """The filter before or after the results of one batch; `unrest` scales the return error's variance."""

    gaussian: Gaussian
    unrest: float = 1.0


class WaterFilter:
    """Process and measurements of the temper water of one plant."""

    def __init__(self, plant: PlantModel, log: Log, wander: Wander) -> None:
        self.plant, self.log, self.wander = plant, log, wander
        self.made: dict[int, Made] = {}
        self.target = next(t.target for t in plant.targets if t.property == "compactability")

    def start(self) -> WaterState:
        """What is known before the first batch."""
        w = self.wander
        sd = np.array([w.demand, w.bare, w.balance, w.stop, SLOPE_SD])
        return WaterState(Gaussian(np.array([0.0, 0.0, 0.0, 0.0, self.plant.slope]), np.diag(sd**2)))

    def measure(self, state: WaterState, index: int) -> WaterState:
        """The state after the results of one batch's sand."""
        made = self.made.get(self.log.at[index])
        if made is None:
            return state
        for _, name, value, _, doubtful in self.log.results_of(index):
            lab = self.plant.lab(name)
            if lab is None or name not in ("compactability", "moisture", "return_moisture"):
                continue
            variance = lab.sd**2 * (4.0 if doubtful else 1.0)
            expected, row = self._view(name, state.gaussian.mean, made)
            if name == "return_moisture":
                variance += 0.05**2
            step = corrected(state.gaussian, value - expected, row, variance)
            unrest = state.unrest
            if name == "compactability":
                surprise = min(step.innovation**2, 9.0) - 1.0
                unrest = min(max(unrest * exp(0.03 * surprise), LEAST_CALM), GREATEST_CALM)
            mean = step.state.mean
            mean[SLOPE] = min(max(mean[SLOPE], LOWEST_SLOPE), HIGHEST_SLOPE)
            state = WaterState(Gaussian(mean, step.state.covariance), unrest)
        return state

    def _view(self, name: str, mean: Floats, made: Made) -> tuple[float, Floats]:
        row = np.zeros(STATES)
        if name == "return_moisture":
            row[RETURN_ERROR] = 1.0
            return made.assumed + float(mean[RETURN_ERROR]), row
        row[RETURN_ERROR] = row[BALANCE_ERROR] = 1.0
        row[STOP] = made.first
        moisture = made.moisture + float(row @ mean)
        if name == "moisture":
            return moisture, row
        slope, lacking = float(mean[SLOPE]), moisture - made.demand - float(mean[DEMAND])
        row[DEMAND] = -1.0
        row = row * slope
        row[SLOPE] = lacking
        return self.target + slope * lacking, row

    def step(self, state: WaterState, index: int) -> WaterState:
        """The state before the next batch."""
        at, made = self.log.at, self.made.get(self.log.at[index])
        hours = 1.0 / self.plant.batches_per_h
        if index + 1 < len(at):
            hours = (at[index + 1] - at[index]) / HOUR_US
        return self.later(state, hours, probed=made is None or made.probed)

    def later(self, state: WaterState, hours: float, *, probed: bool) -> WaterState:
        """The state so many hours later."""
        w = self.wander
        sd, memory = (w.probed, w.probed_memory_h) if probed else (w.bare, w.bare_memory_h)
        kept = exp(-hours / memory)
        transition = np.eye(STATES)
        transition[RETURN_ERROR, RETURN_ERROR] = kept
        running = min(hours, 8.0)
        added = np.array(
            [
                w.demand_walk**2 * running,
                state.unrest * sd**2 * (1.0 - kept * kept),
                w.balance_walk**2 * running,
                0.0,
                w.slope_walk**2 * running,
            ]
        )
        return WaterState(
            moved(state.gaussian, transition, transition @ state.gaussian.mean, added), state.unrest
        )

    def wanted(self, state: WaterState, demand: float, first: float) -> tuple[float, float]:
        """Moisture by the balance at which a batch meets its target, and its sd [% of moist]."""
        mean = state.gaussian.mean
        row = np.array([1.0, -1.0, -1.0, -first, 0.0])
        return demand + float(row @ mean), state.gaussian.of(row)
