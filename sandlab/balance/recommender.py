"""The controller that learns its plant: takes in events, gives water for each batch and doses when asked."""

from __future__ import annotations

from bisect import insort
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial

import numpy as np

from sandlab.balance.composition import COMPONENTS, Floats
from sandlab.balance.doses import charge, plan
from sandlab.balance.events import check_event, check_plant
from sandlab.balance.forecast import Forecast, NewSand, Settling, forecast, new_sand_for, settling
from sandlab.balance.innovations import Innovation
from sandlab.balance.kalman import Gaussian
from sandlab.balance.learned import learned
from sandlab.balance.log import Log, Way
from sandlab.balance.paper import paper_flags
from sandlab.balance.passage import Charged
from sandlab.balance.recommendation import TOLD_BY, evidences, recommendation
from sandlab.balance.replay import Replay
from sandlab.balance.sand_filter import SandFilter, SandState, Spread
from sandlab.balance.stream import (
    HOUR_US,
    BatchMade,
    Estimated,
    Event,
    FeederWeighed,
    Outlook,
    PlantModel,
    ProbeReading,
    Production,
    Receipt,
    Recommendation,
    ResultKnown,
    StockCounted,
)
from sandlab.balance.water_answer import with_water
from sandlab.balance.water_filter import Wander
from sandlab.balance.watering import Water, Watering
from sandlab.errors import InputError, Problem

_DEFAULT_SPREAD, _DEFAULT_WANDER = Spread(), Wander()
_NO_OUTLOOK = Outlook()


class Recommender:
    """A Controller; the same events and calls in the same order give the same answers, to the last bit.

    The estimate of the sand depends on what was told, not on the order. The water's filter takes what
    was known of composition, lots and temperature when each batch was made, as its water did.
    Impossible events raise InputError and change nothing: the last recommendation stays in force.
    """

    def __init__(
        self, plant: PlantModel, *, spread: Spread = _DEFAULT_SPREAD, wander: Wander = _DEFAULT_WANDER
    ) -> None:
        check_plant(plant)
        self.plant, self.log = plant, Log(plant)
        self.sand_filter = SandFilter(plant, self.log, spread)
        self._sand = Replay(self.sand_filter.start(), self.sand_filter.measure, self.sand_filter.step)
        self._watering = Watering(plant, self.log, wander)
        self._returned = self.sand_filter.start().gaussian.mean[self.sand_filter.returned]
        self._set_kg, self._set_us = self.log.usual_kg, 0
        self.last: Recommendation | None = None

    def note(self, event: Event) -> None:
        """Take in what has become known; late events are put where they belong."""
        check_event(event, self.plant, self.log)
        self._log(event)
        self._watered(event)

    def _log(self, event: Event) -> None:
        if isinstance(event, BatchMade):
            self._disturb(self.log.made(event))
        elif isinstance(event, ResultKnown):
            index = self.log.tested(event)
            if self.log.at:
                self._sand.disturb(index)
        elif isinstance(event, Production):
            self._sand.disturb(self.log.poured(event))
        elif isinstance(event, Receipt):
            self._sand.disturb(max(0, self.log.received(event) - 1))
        elif isinstance(event, FeederWeighed):
            self._sand.disturb(self.log.weighed_out(event))
        elif isinstance(event, StockCounted):
            insort(self.log.counted, event, key=lambda one: one.at_us)

    def _watered(self, event: Event) -> None:
        if isinstance(event, BatchMade):
            self._watering.made(event, self._returned)
        elif isinstance(event, ResultKnown):
            self._watering.tested(event)
        elif isinstance(event, ProbeReading):
            self._watering.probed(event)

    def recall(
        self, events: Iterable[Event], progress: Callable[[float], None] = lambda share: None
    ) -> tuple[Problem, ...]:
        """Take in a whole history at once, much quicker than one event after the other.

        The estimate of the sand is the same; the water is told of each hour's sand what is known today.
        Impossible events are left out and returned with what is wrong.

        progress: called with the share done now and then; what it raises ends the work
        """
        kept: list[Event] = []
        refused: list[Problem] = []
        for event in events:
            try:
                check_event(event, self.plant, self.log)
            except InputError as error:
                refused += error.problems
                continue
            self._log(event)
            kept.append(event)
        hours = self._hourly_sand(progress)
        for number, event in enumerate(kept):
            if number % 100 == 0:
                progress(0.5 + 0.5 * number / len(kept))
            if isinstance(event, BatchMade):
                self._returned = hours[event.at_us // HOUR_US]
            self._watered(event)
        return tuple(refused)

    def _hourly_sand(self, progress: Callable[[float], None]) -> dict[int, Floats]:
        """Return sand at the last batch of every hour; before its first tests as they told it."""
        last = {at_us // HOUR_US: index for index, at_us in enumerate(self.log.at)}
        told = [self.log.first_of(TOLD_BY[name]) for name in ("active_clay", "volatiles")]
        first = max((self.log.index(at_us) for at_us in told if at_us is not None), default=0)
        found: dict[int, Floats] = {}
        for hour, index in last.items():
            progress(0.5 * index / len(self.log.at))
            state = self._sand.at(max(index, first))
            found[hour] = state.gaussian.mean[self.sand_filter.returned]
        return found

    def set_to(self, at_us: int, kg: Mapping[str, float]) -> None:
        """What a person set the feeders to: the next change is counted from there [kg by feeder id]."""
        now = zip((f.id for f in self.log.feeders), self._present().tolist(), strict=True)
        self._set_kg = np.array([kg.get(name, present) for name, present in now])
        self._set_us = at_us
        water = kg.get(self._watering.feeder.id)
        if water is not None:
            self._watering.set_kg, self._watering.set_us = water, at_us

    def advise(
        self,
        at_us: int,
        outlook: Outlook = _NO_OUTLOOK,
        *,
        moisture: float | None = None,
        temperature: float | None = None,
    ) -> Recommendation:
        """As `recommend`, completed by the water of the next batch at these settings.

        moisture, temperature: of the return sand by the belt probes now, None without probes
        """
        settings = self.recommend(at_us, outlook)
        batch = BatchMade(at_us, settings.kg, None, moisture, temperature)
        whole = with_water(settings, self._watering, batch, self._returned)
        self.last = replace(whole, flags=(*whole.flags, *paper_flags(self.log, at_us)))
        return self.last

    def _disturb(self, index: int) -> None:
        self._sand.disturb(index)
        self._watering.disturb(index)

    def water(
        self,
        at_us: int,
        probe_moisture: float | None,
        probe_temperature: float | None,
        added_kg: Mapping[str, float],
    ) -> float:
        """Water for the batch about to be made [kg], within the feeder's limits and resolution."""
        batch = BatchMade(at_us, added_kg, None, probe_moisture, probe_temperature)
        return self.watered(batch).kg

    def watered(self, batch: BatchMade) -> Water:
        """The same with the moisture it aims at and how sure it is."""
        return self._watering.water(batch, self._returned)

    def recommend(self, at_us: int, outlook: Outlook) -> Recommendation:
        """Settings of clay, carbon, premix and new sand from now until they may change again."""
        self.log.planned(outlook)
        state, ahead = self._now()
        present = self._present()
        known = self._estimated(self.sand_filter.on_own_scale(ahead), self._charge(at_us, present))
        found = evidences(self.sand_filter, state, at_us, known)
        plans = plan(self.sand_filter, ahead, at_us, present, targets=self.plant.targets, found=found)
        self._returned = ahead.mean[self.sand_filter.returned]
        self._set_kg = np.array([dose.kg for dose in plans.doses])
        self._set_us = at_us
        returned = self._returned_sand(ahead)
        self.last = recommendation(self.sand_filter, state, found, plans, at_us, returned)
        return self.last

    def prepared(self, at_us: int) -> dict[str, Estimated]:
        """Prepared sand of a batch made now at the present settings: component -> % of dry."""
        _, ahead = self._now()
        return self._estimated(ahead, self._charge(at_us, self._present()))

    def returned(self) -> dict[str, Estimated]:
        """Return sand at the muller now: component -> % of dry."""
        return self._returned_sand(self._now()[1])

    def past(self, points: int = 120) -> tuple[tuple[int, Floats, Floats], ...]:
        """Prepared sand of the last days by what is known of it: time, mean and sd, shape (4,) each [%]."""
        self._now()
        kept = [one for one in self._sand.kept().items() if one[0] < len(self.log.at)]
        chosen = kept[:: max(1, len(kept) // points)]
        return tuple(
            (self.log.at[index], *self.sand_filter.prepared(state.gaussian, self.log.charged(index)))
            for index, state in chosen
        )

    def innovations(self) -> tuple[Innovation, ...]:
        """What the balance did not foresee of each result, by the time the sand was taken."""
        self._now()
        found = [*self.sand_filter.met.all(), *self._watering.met()]
        return tuple(sorted(found, key=lambda one: (one.taken_us, one.property)))

    def compactability(self) -> Estimated:
        """Compactability that the next batch would have with the water asked for: the target and its sd."""
        return self._watering.compactability()

    def learned(self) -> dict[str, Estimated]:
        """Slow parameters: wear factors, feeders and lots (relative error), bond, wear of jobs, water."""
        return learned(self.sand_filter, self._now()[1]) | self._watering.learned()

    def forecast(
        self, at_us: int, hours: float, kg: Mapping[str, float] | None = None, *, way: Way | None = None
    ) -> Forecast:
        """Bands of the coming hours of running, at the present settings or at others (feeder id -> kg)."""
        ahead, settings = self._now()[1], self._settings(kg)
        today, _ = self.sand_filter.prepared(ahead, self._charge(at_us, self._present()))
        needs = partial(self._watering.demand_ahead, self._returned, today)
        return forecast(self.sand_filter, ahead, at_us, settings, hours, needs=needs, way=way)

    def settling(
        self, at_us: int, kg: Mapping[str, float] | None = None, *, way: Way | None = None
    ) -> Settling:
        """Where settings lead in the present job or in another, and how long it takes."""
        return settling(self.sand_filter, self._now()[1], at_us, self._settings(kg), way=way)

    def new_sand_for(self, at_us: int, fines: float, *, way: Way | None = None) -> NewSand:
        """New sand per batch that holds the inert fines at a level [% of dry]."""
        state, present = self._now()[1], self._present()
        return new_sand_for(self.sand_filter, state, at_us, present, fines, self.plant.targets, way=way)

    def present(self) -> dict[str, float]:
        """What is set now: feeder id -> kg per batch as weighed."""
        ids = [feeder.id for feeder in self.log.feeders]
        return dict(zip(ids, self._present().tolist(), strict=True))

    def _settings(self, kg: Mapping[str, float] | None) -> Floats:
        present = self._present().tolist()
        ids = [feeder.id for feeder in self.log.feeders]
        return np.array([(kg or {}).get(name, now) for name, now in zip(ids, present, strict=True)])

    def _now(self) -> tuple[SandState, Gaussian]:
        """The filter after the last batch's results, and before the next batch."""
        if not self.log.at:
            start = self.sand_filter.start()
            return start, start.gaussian
        index = len(self.log.at) - 1
        state = self._sand.at(index)
        return state, self.sand_filter.step(state, index).gaussian

    def _present(self) -> Floats:
        """What is set now: the last recommendation, unless batches since then were logged otherwise."""
        if not self.log.at or self.log.at[-1] < self._set_us:
            return self._set_kg
        logged = self.log.added(dict(self.log.batches[-1].added_kg))
        steps = np.array([feeder.resolution_kg for feeder in self.log.feeders])
        return np.where(np.abs(logged - self._set_kg) > 1.5 * steps, logged, self._set_kg)

    def _charge(self, at_us: int, kg: Floats) -> Charged:
        return charge(self.sand_filter, at_us, kg)

    def _estimated(self, ahead: Gaussian, charged: Charged) -> dict[str, Estimated]:
        values, sds = self.sand_filter.prepared(ahead, charged)
        pairs = zip(values.tolist(), sds.tolist(), strict=True)
        return {name: Estimated(*pair) for name, pair in zip(COMPONENTS, pairs, strict=True)}

    def _returned_sand(self, ahead: Gaussian) -> dict[str, Estimated]:
        place = self.sand_filter.returned
        sds = np.sqrt(np.maximum(np.diag(ahead.covariance)[place], 0.0)).tolist()
        pairs = zip(ahead.mean[place].tolist(), sds, strict=True)
        return {name: Estimated(*pair) for name, pair in zip(COMPONENTS, pairs, strict=True)}
