"""The extended Kalman filter of the return sand: composition in storage, and what is slow to change.

The system's sand stands in cells that pass it on, so that a parcel comes back after a spread of times.
State: the components of each cell, then wear factors, feeders, assays, bond and fines, each as a relative
error of its start value or as a level that wanders; last what some tests always show beside their components.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import exp, log

import numpy as np

from sandlab.balance.composition import COMPONENTS, Floats, vector
from sandlab.balance.innovations import Innovations
from sandlab.balance.kalman import GATE, Doubt, Gaussian, corrected, doubted, moved
from sandlab.balance.log import MOST_JOBS, Log
from sandlab.balance.passage import FIXED_CARBON, SIZE, Charged, Mixed, Passage, Passed, mixed
from sandlab.balance.stream import HOUR_US, PlantModel
from sandlab.balance.views import LASTING, View, lasting_sds, views

CELLS = 6
STEERING = ("clay", "carbon", "premix")
USUAL = {"fixed_carbon": 2.0, "inert_fines": 3.0}
WEIGHED_SD = 0.01  # of a feeder weighed out, relative; common practice
FEED_SCATTER = 0.02  # of one batch's addition, relative, for the band of a single batch


@dataclass(frozen=True, slots=True)
class Spread:
    """Prior standard deviations and how fast things wander; common practice, published ranges of wear.

    clay_wear, carbon_wear: logarithm of the wear factor: 0.25 to 0.40 and 0.7 to 1.5 [-]
    job: the same of one job against the others [-]
    feed, lot, unknown_lot: relative error of a feeder, of a lot with and without certificate [-]
    bond: logarithm of working bond over active clay [-]
    swing, swing_h: what comes and goes of it, fresh clay that is not yet mulled out among it [-], [h]
    source: what joins fixed carbon and inert fines in one cycle beside what the loop says [%]
    *_walk: wander in one hour of running, sd [unit of the state]; of the feeders: a bias of 0.02 that lasts
        50 h (0.004), and every third week a fault or a repair of 0.1 to 0.15 (0.006)
    start: components of the sand at the start, common to all cells [%]
    parcel: what one cell's worth of sand may differ from the equations: its way through the storage, lots
        of castings, weighing [%]
    """

    clay_wear: float = 0.14
    carbon_wear: float = 0.22
    feed: float = 0.04
    lot: float = 0.02
    unknown_lot: float = 0.06
    bond: float = 0.35
    swing: float = 0.025
    swing_h: float = 20.0
    source: tuple[float, float] = (0.10, 0.20)
    job: float = 0.10
    wear_walk: float = 0.004
    feed_walk: float = 0.008
    bond_walk: float = 0.0007
    source_walk: float = 0.006
    start: tuple[float, float, float, float] = (0.4, 0.25, 0.8, 1.2)
    parcel: tuple[float, float, float, float] = (0.08, 0.025, 0.05, 0.06)


@dataclass(frozen=True, slots=True)
class SandState:
    """The filter before or after the results of one batch.

    suspects: property -> side of its last result if that lay beyond the gate
    doubts: results beyond the gate, newest last
    """

    gaussian: Gaussian
    suspects: Mapping[str, int] = field(default_factory=dict)
    doubts: tuple[Doubt, ...] = ()


class SandFilter:
    """Process and measurements of one plant; reads batches, jobs, lots and results from its log."""

    def __init__(self, plant: PlantModel, log: Log, spread: Spread) -> None:
        self.plant, self.log, self.spread = plant, log, spread
        self.passage = Passage(plant.loop)
        feeders = log.feeders
        self.steering = np.array([f.material.kind in STEERING for f in feeders], dtype=bool)
        self.cells = CELLS * SIZE
        count = len(feeders)
        self.clay_wear, self.carbon_wear = self.cells, self.cells + 1
        self.feed = slice(self.cells + 2, self.cells + 2 + count)
        self.lot = slice(self.feed.stop, self.feed.stop + count)
        self.bond, self.swing = self.lot.stop, self.lot.stop + 1
        self.source = slice(self.swing + 1, self.swing + 3)
        self.jobs = slice(self.source.stop, self.source.stop + MOST_JOBS)
        self.lasting = slice(self.jobs.stop, self.jobs.stop + len(LASTING))
        self.size = self.lasting.stop
        self.returned = slice(self.cells - SIZE, self.cells)
        self.cell_kg = 1000.0 * plant.stock_t / CELLS
        self.met = Innovations()
        self._templates: dict[float, Floats] = {}
        self._walks = self._hourly()

    def start(self) -> SandState:
        """What is known before the first batch."""
        named = {target.property: target.target for target in self.plant.targets}
        usual = USUAL | {k: v for k, v in named.items() if k in COMPONENTS} | dict(self.plant.usual)
        mean = np.zeros(self.size)
        mean[: self.cells] = np.tile(vector(usual), CELLS)
        mean[self.bond], mean[self.source] = log(self.plant.bond), self.plant.source
        spread = self.spread
        own = np.zeros(self.size)
        own[: self.cells] = np.tile(0.3 * np.array(spread.start), CELLS)
        own[self.clay_wear], own[self.carbon_wear] = spread.clay_wear, spread.carbon_wear
        own[self.feed] = np.where(self.steering, spread.feed, 0.0)
        own[self.lot] = np.where(self.steering, spread.lot, 0.0)
        own[self.bond], own[self.swing], own[self.source] = spread.bond, spread.swing, spread.source
        own[self.jobs] = spread.job
        own[self.lasting] = np.maximum(lasting_sds(mean[:SIZE]), 0.01)
        covariance = np.diag(own**2)
        for place in range(SIZE):
            same = np.zeros(self.size)
            same[place : self.cells : SIZE] = spread.start[place]
            covariance += np.outer(same, same)
        return SandState(Gaussian(mean, covariance))

    def mixed(self, mean: Floats, charged: Charged, returned: Floats | None = None) -> Mixed:
        """The prepared sand that a charge makes of return sand, if not told otherwise of the present one."""
        sand = mean[self.returned] if returned is None else returned
        return mixed(sand, charged, mean[self.feed], mean[self.lot])

    def sent(self, mean: Floats, prepared: Floats, charged: Charged) -> Passed:
        """Prepared sand sent to the shakeout by what is known of wear and fines."""
        job = float(mean[self.jobs.start + charged.job]) if charged.job >= 0 else 0.0
        return self.passage.passed(
            prepared,
            charged,
            clay_wear=float(mean[self.clay_wear]) + job,
            carbon_wear=float(mean[self.carbon_wear]) + job,
            source=np.concatenate([np.zeros(FIXED_CARBON), mean[self.source]]),
        )

    def carried(self, mean: Floats, cells: Floats, charged: Charged) -> Floats:
        """The cells one batch on, shape (cells x 4,); wear and feeders as in `mean`."""
        share = self._share(charged)
        made = self.mixed(mean, charged, cells[-SIZE:])
        entering = self.sent(mean, made.composition, charged).composition
        return cells + share * (np.concatenate([entering, cells[:-SIZE]]) - cells)

    def _share(self, charged: Charged) -> float:
        return round(min(charged.dry_kg / self.cell_kg, 1.0), 3)

    def rows(self, made: Mixed) -> Floats:
        """Derivatives of prepared sand by the state, shape (4, size)."""
        rows = np.zeros((SIZE, self.size))
        rows[:, self.returned] = np.eye(SIZE) * made.by_return
        rows[:, self.feed], rows[:, self.lot] = made.by_feed, made.by_assay
        return rows

    def measure(self, state: SandState, index: int) -> SandState:
        """The state after the results of one batch's sand."""
        for _, place, error in self.log.weighed_of(index):
            row = np.zeros(self.size)
            row[self.feed.start + place] = 1.0
            off = error - float(state.gaussian.mean[self.feed.start + place])
            state = replace(state, gaussian=corrected(state.gaussian, off, row, WEIGHED_SD**2).state)
        self.met.begin(index)
        results = self.log.results_of(index)
        if not results:
            return state
        charged = self.log.charged(index)
        for view in views(results, self.plant):
            state = self._seen(state, view, charged)
        return state

    def _seen(self, state: SandState, view: View, charged: Charged) -> SandState:
        gaussian = state.gaussian
        made = self.mixed(gaussian.mean, charged)
        expected, by_prepared, by_bond = view.expected(
            made.composition, float(gaussian.mean[self.bond] + gaussian.mean[self.swing])
        )
        row = by_prepared @ self.rows(made)
        row[self.bond] = row[self.swing] = by_bond
        if view.lasting >= 0:
            place = self.lasting.start + view.lasting
            row[place] = 1.0
            expected += float(gaussian.mean[place])
        innovation = view.value - expected
        step = corrected(gaussian, innovation, row, view.variance)
        self.met.add(view.taken_us, view.property, view.result, step.innovation)
        side = 0 if abs(step.innovation) <= GATE else (1 if innovation > 0.0 else -1)
        again = bool(side) and state.suspects.get(view.property) == side
        if again:
            # the second in a row on the same side: the sand has changed, not the laboratory slipped
            gaussian = Gaussian(gaussian.mean, gaussian.covariance + np.diag(self._surprise()))
            step = corrected(gaussian, innovation, row, view.variance)
        doubts = doubted(
            state.doubts, view.taken_us, view.property, view.result, step.innovation, again=again
        )
        return SandState(step.state, {**state.suspects, view.property: side}, doubts)

    def _surprise(self) -> Floats:
        added = np.zeros(self.size)
        added[: self.cells] = np.tile(0.1 * np.array(self.spread.start) ** 2, CELLS)
        added[self.feed] = np.where(self.steering, self.spread.feed**2, 0.0)
        added[self.bond] = 0.02**2
        return added

    def step(self, state: SandState, index: int) -> SandState:
        """The state before the next batch: this one's sand goes round, the feeders wander, lots change."""
        at = self.log.at
        last = index + 1 >= len(at)
        hours = 1.0 / self.plant.batches_per_h if last else (at[index + 1] - at[index]) / HOUR_US
        gaussian = self.advanced(state.gaussian, self.log.charged(index), hours)
        if not last:
            gaussian = self._relotted(gaussian, at[index], at[index + 1])
        return SandState(gaussian, state.suspects, state.doubts)

    def advanced(self, gaussian: Gaussian, charged: Charged, hours: float) -> Gaussian:
        """Mean and covariance one batch on; a gap widens what is known of the sand that stands."""
        mean = gaussian.mean
        made = self.mixed(mean, charged)
        passed = self.sent(mean, made.composition, charged)
        share = self._share(charged)
        transition = self._template(share).copy()
        transition[:SIZE, self.returned] += share * made.by_return * passed.by_prepared
        transition[:SIZE, self.clay_wear] = share * passed.by_clay_wear
        transition[:SIZE, self.carbon_wear] = share * passed.by_carbon_wear
        if charged.job >= 0:
            both = passed.by_clay_wear + passed.by_carbon_wear
            transition[:SIZE, self.jobs.start + charged.job] = share * both
        transition[:SIZE, self.feed] = share * (passed.by_prepared @ made.by_feed)
        transition[:SIZE, self.lot] = share * (passed.by_prepared @ made.by_assay)
        for place, source in enumerate(range(self.source.start, self.source.stop)):
            transition[FIXED_CARBON + place, source] = share * passed.per_source
        swing = exp(-min(hours, 24.0) / self.spread.swing_h)
        transition[self.swing, self.swing] = swing
        following = mean.copy()
        following[self.swing] *= swing
        following[SIZE : self.cells] += share * (mean[: self.cells - SIZE] - mean[SIZE : self.cells])
        following[:SIZE] += share * (passed.composition - mean[:SIZE])
        return moved(gaussian, transition, following, self._added(share, hours))

    def _template(self, share: float) -> Floats:
        found = self._templates.get(share)
        if found is None:
            found = np.eye(self.size)
            found[: self.cells, : self.cells] *= 1.0 - share
            for row in range(SIZE, self.cells):
                found[row, row - SIZE] = share
            self._templates[share] = found
        return found

    def _hourly(self) -> Floats:
        walks, spread = np.zeros(self.size), self.spread
        walks[self.clay_wear] = walks[self.carbon_wear] = spread.wear_walk**2
        walks[self.feed] = np.where(self.steering, spread.feed_walk**2, 0.0)
        walks[self.bond], walks[self.source] = spread.bond_walk**2, spread.source_walk**2
        return walks

    def _added(self, share: float, hours: float) -> Floats:
        running = 1.0 / self.plant.batches_per_h
        gap = min(max(hours - 2.0 * running, 0.0), 72.0)
        added = self._walks * (running + 0.1 * gap)
        parcel = np.array(self.spread.parcel) ** 2
        added[:SIZE] += 2.0 * share * parcel
        added[self.swing] = self.spread.swing**2 * (1.0 - exp(-2.0 * min(hours, 24.0) / self.spread.swing_h))
        if gap > 0.5:
            added[: self.cells] += np.tile(parcel * gap / 72.0, CELLS)
        return added

    def _relotted(self, gaussian: Gaussian, after_us: int, until_us: int) -> Gaussian:
        """A new lot's assay is as uncertain as a certificate, whatever was learned of the last one."""
        for receipt in self.log.lots_between(after_us, until_us):
            sd = self.spread.lot if receipt.assay else self.spread.unknown_lot
            for place, feeder in enumerate(self.log.feeders):
                if feeder.material.id != receipt.material or not self.steering[place]:
                    continue
                at = self.lot.start + place
                mean, covariance = gaussian.mean.copy(), gaussian.covariance.copy()
                mean[at] = 0.0
                covariance[at, :] = covariance[:, at] = 0.0
                covariance[at, at] = sd**2
                gaussian = Gaussian(mean, covariance)
        return gaussian

    def on_own_scale(self, gaussian: Gaussian) -> Gaussian:
        """The same on the scale of the plant's own tests: what they always show beside is no doubt."""
        covariance, own = gaussian.covariance, self.lasting
        shared = np.linalg.solve(covariance[own, own], covariance[own, :])
        return Gaussian(gaussian.mean, covariance - covariance[:, own] @ shared)

    def prepared(self, gaussian: Gaussian, charged: Charged) -> tuple[Floats, Floats]:
        """Prepared sand of a charge and its standard deviations, shape (4,) each [% of dry]."""
        made = self.mixed(gaussian.mean, charged)
        rows = self.rows(made)
        variance = np.einsum("ij,jk,ik->i", rows, gaussian.covariance, rows)
        scatter = FEED_SCATTER**2 * (made.by_feed**2).sum(axis=1)
        return made.composition, np.sqrt(np.maximum(variance, 0.0) + scatter)
