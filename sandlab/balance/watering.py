"""Water batch by batch: what the balance knows before the batch, and what the tests have taught."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace

import numpy as np

from sandlab.balance.additions import limits, settable
from sandlab.balance.composition import Floats, mapping
from sandlab.balance.innovations import Innovation
from sandlab.balance.inputs import Feeder, Target
from sandlab.balance.log import Log
from sandlab.balance.muller_charge import WaterBalance, water_balance
from sandlab.balance.replay import Replay
from sandlab.balance.stream import HOUR_US, BatchMade, Estimated, PlantModel, ProbeReading, ResultKnown
from sandlab.balance.temper import DemandFit, fitted_demand, moisture_demand
from sandlab.balance.water_filter import (
    BALANCE,
    BATCH_SCATTER,
    DEMAND,
    SHARE,
    SLOPE,
    STOP,
    TESTS,
    WETTER,
    Made,
    Wander,
    WaterState,
)
from sandlab.balance.water_filters import States, WaterFilters, blended

DRIEST, WETTEST = 0.1, 15.0  # % moisture that the balance will aim at
STOP_H = 1.0  # a longer gap makes a stratum of the batches after it
FIRST_BATCHES = 12  # that the stratum fades over
PROBE_H = 0.5  # how long a reading between batches stands in for one with the batch
TESTED_H = 8.0  # how long a lab's return temperature stands in for a probe
WARMTH_WEIGHT = 0.25  # of one probe reading in the smoothed return temperature
OFFSET_WEIGHT = 0.01  # of one discharge temperature in the offset from eta: 1 K moves compactability a point
TESTED_WEIGHT = 0.4  # of one tested return temperature in the smoothed one
# Moisture per 1 % of clay, of volatiles and fixed carbon, of fines, where a plant has no fit of its own.
PER_CLAY, PER_CARBON, PER_FINES = 0.30, 0.14, 0.12


@dataclass(frozen=True, slots=True)
class Water:
    """One batch's water: kg as set, the moisture it aims at and its sd, the compactability's sd."""

    kg: float
    ideal_kg: float
    moisture: float
    moisture_sd: float
    compactability_sd: float


@dataclass(frozen=True, slots=True)
class Ahead:
    """A batch about to be made: its charge, the filter there, demand by composition, the feeder as it is set.

    first: share of a first batch after a stop, 1 to 0 [-]
    """

    balance: WaterBalance
    state: WaterState
    demand: float
    first: float
    feeder: Feeder

    @property
    def above_balance(self) -> float:
        """What the batch holds above the balance with the usual return sand [%]."""
        mean = self.state.gaussian.mean
        return float(SHARE * mean[WETTER] + mean[BALANCE] + self.first * mean[STOP])


class Watering:
    """The water filter with the batches' charges; made for one plant and its log."""

    def __init__(self, plant: PlantModel, log: Log, wander: Wander) -> None:
        self.plant, self.log = plant, log
        self.filters = WaterFilters(plant, log, wander)
        self.filter = self.filters.alone
        start, measure, step = self.filters.start(), self.filters.measure, self.filters.step
        self._replay: Replay[States] = Replay(start, measure, step)
        self.feeder = next(f for f in plant.feeders if f.material.kind == "water")
        self._fit = plant.demand or self._published()
        self._probe: ProbeReading | None = None
        self._tested: ResultKnown | None = None
        self._warm: float | None = None
        self._offset = 0.0
        self._discharges: dict[int, float] = {}
        # what a person set the water feeder to, and when
        self.set_kg: float | None = None
        self.set_us = 0

    def _published(self) -> DemandFit:
        """The published level at the target, with usual shares of what drinks water around it."""
        targets = {t.property: t.target for t in self.plant.targets}
        clay = targets.get("active_clay", 8.0)
        level = moisture_demand({"active_clay": clay}, targets["compactability"]).value
        carbon, fines = targets.get("volatiles", 1.4) + 2.0, targets.get("inert_fines", 3.0)
        constant = level - PER_CLAY * clay - PER_CARBON * carbon - PER_FINES * fines
        return DemandFit(constant, PER_CLAY, PER_FINES, PER_CARBON, compactability=targets["compactability"])

    @property
    def target(self) -> Target:
        """The target of compactability."""
        return next(t for t in self.plant.targets if t.property == "compactability")

    def assumed(self, batch: BatchMade) -> dict[str, float]:
        """What of the return sand is the usual value, because neither probe nor recent test tells it."""
        muller, recent = self.plant.muller, batch.at_us - int(TESTED_H * HOUR_US)
        found = {"return_moisture": muller.return_moisture, "return_temperature": muller.return_temperature}
        for name, probed in zip(list(found), self._probes(batch), strict=True):
            last = self.log.newest.get(name)
            if probed is not None or (last is not None and last[0] >= recent):
                del found[name]
        return found

    @property
    def state(self) -> WaterState:
        """What is known at the last batch."""
        return blended(self._states())

    def _states(self) -> States:
        return self._replay.at(len(self.log.at) - 1) if self.log.at else self.filters.start()

    def met(self) -> list[Innovation]:
        """The innovations of the results that concern the water, up to the last batch."""
        return self.filters.met(self._states())

    def probed(self, reading: ProbeReading) -> None:
        """Keep a reading for the batches that bring none."""
        self._probe = reading

    def tested(self, result: ResultKnown) -> None:
        """A result that may concern the water."""
        if result.property in TESTS and self.log.at:
            self._replay.disturb(self.log.index(result.taken_us))
        elif result.property == "return_temperature":
            last, recent = self._tested, result.taken_us - int(TESTED_H * HOUR_US)
            before = result.value if last is None or last.taken_us < recent else last.value
            self._tested = replace(result, value=before + TESTED_WEIGHT * (result.value - before))
        elif result.property == "sand_temperature" and self.log.at:
            estimate = self._discharges.get(self.log.at[self.log.index(result.taken_us)])
            if estimate is not None and not result.doubtful:
                self._offset += OFFSET_WEIGHT * (result.value - estimate - self._offset)

    def disturb(self, index: int) -> None:
        """Batches from this one on have changed."""
        self._replay.disturb(index)

    def made(self, batch: BatchMade, returned: Floats) -> None:
        """Keep what the filter needs of a batch that was made."""
        self._warm = self.warmth(batch)
        balance = self._balance(batch, self._warm)
        added = dict(batch.added_kg)
        self._discharges[batch.at_us] = balance.discharge - self._offset
        self.filters.made[batch.at_us] = Made(
            moisture=balance.moisture(added.get(self.feeder.id, self.feeder.present_kg)),
            demand=self._demand(batch, returned, balance.discharge),
            first=self._first(batch.at_us),
            probe=self._wetness(batch),
        )

    def water(self, batch: BatchMade, returned: Floats) -> Water:
        """Water for a batch about to be made, in closed form."""
        ahead = self.ahead(batch, returned)
        moisture, sd = self.filter.wanted(ahead.state, ahead.demand, ahead.first)
        ideal = ahead.balance.water_for(min(max(moisture, DRIEST), WETTEST))
        bounds = limits(ahead.feeder)
        kg = settable(ahead.feeder, min(max(ideal, bounds.low), bounds.high))
        return Water(kg, ideal, moisture, sd, sd * float(ahead.state.gaussian.mean[SLOPE]))

    def ahead(self, batch: BatchMade, returned: Floats) -> Ahead:
        """What is known of the water of a batch about to be made."""
        balance = self._balance(batch, self.warmth(batch))
        present, probe, hours = self.feeder.present_kg, self._wetness(batch), 0.0
        if self.log.at:
            hours = max(0.0, (batch.at_us - self.log.at[-1]) / HOUR_US)
            present = self.log.batches[-1].added_kg.get(self.feeder.id, present)
        if self.set_kg is not None and (not self.log.at or self.log.at[-1] < self.set_us):
            present = self.set_kg
        state = self.filters.later(self._states(), hours)
        if probe is not None:
            state = self.filter.probed(state, probe)
        demand = self._demand(batch, returned, balance.discharge)
        feeder = replace(self.feeder, present_kg=present)
        return Ahead(balance, state, demand, self._first(batch.at_us), feeder)

    def compactability(self) -> Estimated:
        """Compactability of the next batch at the water asked for, with what one batch scatters."""
        state = self.filters.later(self._states(), 1.0 / self.plant.batches_per_h)
        _, sd = self.filter.wanted(state, 0.0, 0.0)
        slope = float(state.gaussian.mean[SLOPE])
        return Estimated(self.filter.target, slope * (sd * sd + BATCH_SCATTER**2) ** 0.5)

    def demand_ahead(
        self,
        returned: Floats,
        present: Floats,
        hours: Floats,
        prepared: tuple[Floats, Floats],
        temperature: tuple[Floats, Floats],
    ) -> tuple[Floats, Floats]:
        """Moisture needed by sand of the coming hours at the target, and its sd, shape (n,) each [%].

        It starts at what the tests ask for of today's sand, and moves with composition and temperature;
        what is not known of today's sand is in those tests: only what comes to it widens the band.

        returned, present: return sand as the filter took it, and prepared sand now, shape (4,) [% of dry]
        prepared, temperature: means and standard deviations over the hours, shape (n, 4) and (n,) [%], [C]
        """
        (mean, sd), (warm, warm_sd), gaussian = prepared, temperature, self.state.gaussian
        last = self.log.batches[-1] if self.log.at else BatchMade(0, {})
        start = self._demand(last, returned, float(warm[0])) + float(gaussian.mean[DEMAND])
        today = fitted_demand(self._fit, mapping(present), float(warm[0]))
        moved = [fitted_demand(self._fit, mapping(x), t) for x, t in zip(mean, warm.tolist(), strict=True)]
        fit = self._fit
        weights = np.array([fit.clay, fit.carbon, fit.carbon, fit.fines])
        more = np.maximum(sd**2 - sd[0] ** 2, 0.0) @ weights**2
        variance = gaussian.covariance[DEMAND, DEMAND] + self.filter.wander.demand_walk**2 * hours
        warmer = np.where(warm > fit.reference_temperature, fit.temperature * warm_sd, 0.0)
        return start + np.array(moved) - today, np.sqrt(variance + more + warmer**2)

    def learned(self) -> dict[str, Estimated]:
        """Slope [points per 1 %], and moisture above the level that composition explains [%]."""
        gaussian = self.state.gaussian
        sds = np.sqrt(np.diag(gaussian.covariance)).tolist()
        return {
            "slope": Estimated(float(gaussian.mean[SLOPE]), sds[SLOPE]),
            "moisture_demand": Estimated(float(gaussian.mean[DEMAND]), sds[DEMAND]),
            "water_balance": Estimated(float(gaussian.mean[BALANCE]), sds[BALANCE]),
        }

    def _wetness(self, batch: BatchMade) -> float | None:
        """Return moisture above the usual by the probe: with the batch, or read shortly before."""
        moisture = self._probes(batch)[0]
        return None if moisture is None else moisture - self.plant.muller.return_moisture

    def _probes(self, batch: BatchMade) -> tuple[float | None, float | None]:
        """Moisture and temperature by the probes: with the batch, or read shortly before."""
        moisture, temperature, probe = batch.probe_moisture, batch.probe_temperature, self._probe
        if probe is not None and 0 <= batch.at_us - probe.at_us <= PROBE_H * HOUR_US:
            moisture = probe.moisture if moisture is None else moisture
            temperature = probe.temperature if temperature is None else temperature
        return moisture, temperature

    def warmth(self, batch: BatchMade) -> float:
        """Return temperature: by the probe, smoothed; else by a test of the last hours; else the usual."""
        temperature, tested = self._probes(batch)[1], self._tested
        if temperature is not None:
            rested = bool(self.log.at) and batch.at_us - self.log.at[-1] > STOP_H * HOUR_US
            last = temperature if self._warm is None or rested else self._warm
            return last + WARMTH_WEIGHT * (temperature - last)
        if tested is not None and batch.at_us - tested.taken_us <= TESTED_H * HOUR_US:
            return tested.value
        return self.plant.muller.return_temperature

    def _balance(self, batch: BatchMade, temperature: float) -> WaterBalance:
        """The charge with the usual moisture of the return sand."""
        muller = self.plant.muller
        kg = self.log.added(dict(batch.added_kg)).tolist()
        return water_balance(
            muller,
            batch.return_sand_kg or muller.batch_kg,
            muller.return_moisture,
            temperature,
            list(zip(self.log.feeders, kg, strict=True)),
            discharge_offset=self._offset,
            water_temperature=self.feeder.material.temperature,
        )

    def _demand(self, batch: BatchMade, returned: Floats, discharge: float) -> float:
        """Moisture demand of the batch by its composition, at the target compactability."""
        assays, dry = self.log.assays_at(batch.at_us)
        kg = self.log.added(dict(batch.added_kg)) * dry
        total = self.log.usual_dry_kg + float(kg.sum())
        composition = (self.log.usual_dry_kg * returned + kg @ assays) / total
        level = fitted_demand(self._fit, mapping(composition), discharge)
        return level + (self.filter.target - self._fit.compactability) / self.plant.slope

    def _first(self, at_us: int) -> float:
        """1 for the first batch after a stop, falling to 0."""
        at = self.log.at
        place = bisect_left(at, at_us)
        times = [*at[max(0, place - FIRST_BATCHES) : place], at_us]
        for back in range(1, len(times)):
            if times[-back] - times[-back - 1] > STOP_H * HOUR_US:
                return 1.0 - (back - 1) / FIRST_BATCHES
        return 0.0
