"""What tests always show beside their components, sand stirred on its way, temperatures that are smoothed."""

from __future__ import annotations

from math import exp, hypot

import numpy as np
import pytest

from sandlab.balance.kalman import Gaussian
from sandlab.balance.log import Log
from sandlab.balance.recommender import Recommender
from sandlab.balance.sand_filter import SandFilter, Spread
from sandlab.balance.stream import HOUR_US, BatchMade, Event, ResultKnown
from sandlab.balance.views import lasting_sds, views
from sandlab.balance.water_filter import FRESH, SLOPE, WETTER, Wander, WaterFilter, WaterState
from sandlab.balance.watering import TESTED_WEIGHT, Watering
from tests.balance.luck import Luck
from tests.balance.small_plant import BATCH_US, MONDAY_US, plant_model

KG = {"bentonite": 11.0, "coal": 12.0, "new_sand": 20.0, "water": 28.0}


def told(name: str, value: float, count: int) -> Recommender:
    """Two days of the usual recipe with so many results of one test."""
    recommender = Recommender(plant_model(Luck()))
    events: list[Event] = [BatchMade(MONDAY_US + n * BATCH_US, KG) for n in range(480)]
    at = [MONDAY_US + n * 24 * HOUR_US // count for n in range(count)]
    events += [ResultKnown(name, value, taken, taken + HOUR_US) for taken in at]
    for event in events:
        recommender.note(event)
    return recommender


def test_many_washes_do_not_tell_what_every_wash_shows() -> None:
    """Three times as many AFS clays tell no more of the fines: the doubt is not in their scatter."""
    some, many = (told("afs_clay", 13.0, count).returned()["inert_fines"].sd for count in (40, 120))
    assert many == pytest.approx(some, rel=0.04)
    # lab's scatter 0.3 % over the root of 120; washed-out share and clay scale alone leave 0.4 and more
    assert many > 0.4 > 10.0 * 0.3 / np.sqrt(120)


def test_on_the_scale_of_its_own_tests_a_plant_knows_its_fines() -> None:
    """Given what washes always show beside, the fines are known better; the estimate is the same."""
    recommender = told("afs_clay", 13.0, 60)
    sand_filter = recommender.sand_filter
    _, state = recommender._now()
    own = sand_filter.on_own_scale(state)
    place = sand_filter.returned.stop - 1
    assert own.covariance[place, place] ** 0.5 < 0.85 * state.covariance[place, place] ** 0.5
    assert np.allclose(own.covariance[sand_filter.lasting], 0.0, atol=1e-9)
    assert np.all(own.mean == state.mean)


def test_a_wash_moves_fines_and_offset_by_their_share_of_the_doubt() -> None:
    """One AFS clay 1 % above its expectation: offset and fines move as their variances (Kalman, by hand)."""
    log = Log(plant_model(Luck()))
    sand_filter = SandFilter(log.plant, log, Spread())
    log.made(BatchMade(MONDAY_US, KG))
    start = sand_filter.start().gaussian
    view = next(views([(MONDAY_US, "afs_clay", 0.0, MONDAY_US, False)], log.plant))
    expected = view.expected(sand_filter.mixed(start.mean, log.charged(0)).composition, 0.0)[0]
    log.tested(ResultKnown("afs_clay", expected + 1.0, MONDAY_US, MONDAY_US))
    seen = sand_filter.measure(sand_filter.start(), 0).gaussian
    place, fines = sand_filter.lasting.start + view.lasting, sand_filter.returned.stop - 1
    moved = seen.mean - start.mean
    ratio = start.covariance[place, place] / start.covariance[fines, fines]
    assert 0.0 < moved[place] < moved[fines]
    assert moved[place] / moved[fines] == pytest.approx(ratio, rel=0.03)


def test_lasting_doubt_by_hand() -> None:
    """Bound water 0.006 of 8 % clay; 0.12 of 5 % combustibles beside 0.03 of 8 % clay."""
    found = lasting_sds(np.array([8.0, 1.4, 3.6, 7.0]))
    assert found == pytest.approx([0.006 * 8.0, hypot(0.12 * 5.0, 0.03 * 8.0)])


def water_filter() -> WaterFilter:
    """The filter of the small foundry."""
    log = Log(plant_model(Luck()))
    return WaterFilter(log.plant, log, Wander())


def test_return_sand_follows_the_cooler_as_a_stirred_tank() -> None:
    """A cooler that is wetter and dries off: return sand rises and falls as two stages in series.

    Derived, textbook: b/(b - a) (exp(-t/b) - exp(-t/a)) for a stage a behind a decay b.
    """
    filter_ = water_filter()
    start = filter_.start()
    mean = start.gaussian.mean.copy()
    mean[FRESH] = 0.2
    state = WaterState(Gaussian(mean, start.gaussian.covariance))
    stirred, memory = filter_.stirred_h, filter_.wander.fresh_memory_h
    for number in range(1, 161):
        state = filter_.later(state, 0.05)
        if number % 40 == 0:
            t = 0.05 * number
            by_hand = 0.2 * memory / (memory - stirred) * (exp(-t / memory) - exp(-t / stirred))
            assert state.gaussian.mean[WETTER] == pytest.approx(by_hand, rel=0.02)
    assert state.gaussian.mean[SLOPE] == mean[SLOPE]


def test_what_the_cooler_does_is_felt_late_and_weakened() -> None:
    """Unseen for a day, the return sand's spread is less than the cooler's: a tank behind a wandering source.

    Derived: variance of a first-order lag behind an Ornstein-Uhlenbeck process, memory/(memory + lag) of it,
    and what comes unstirred, a walk that the tank takes in: walk^2 lag/2.
    """
    filter_ = water_filter()
    state = filter_.start()
    for _ in range(1200):
        state = filter_.later(state, 0.05)
    wander, lag = filter_.wander, filter_.stirred_h
    expected = wander.fresh**2 * wander.fresh_memory_h / (wander.fresh_memory_h + lag)
    expected += wander.rough**2 * lag / 2.0
    assert state.gaussian.covariance[WETTER, WETTER] == pytest.approx(expected, rel=0.06)


def test_a_tested_return_temperature_is_smoothed_unless_the_last_is_old() -> None:
    """One degree of a thermometer is not one of the sand; after a shift without a test it counts in full."""
    log = Log(plant_model(Luck()))
    watering = Watering(log.plant, log, Wander())

    def warmth(value: float, hour: float) -> float:
        taken = MONDAY_US + int(hour * HOUR_US)
        watering.tested(ResultKnown("return_temperature", value, taken, taken))
        return watering.warmth(BatchMade(taken + BATCH_US, KG))

    assert warmth(38.0, 0.0) == 38.0
    assert warmth(43.0, 2.0) == pytest.approx(38.0 + TESTED_WEIGHT * 5.0)
    assert warmth(30.0, 20.0) == 30.0
