"""Filters of the temper water side by side: weights by hand, the right plant found, strength as a witness."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log, sqrt

import numpy as np
import pytest

from sandlab.balance.kalman import Gaussian
from sandlab.balance.log import Log
from sandlab.balance.stream import BatchMade, ResultKnown
from sandlab.balance.water_filter import BOND, DEMAND, SLOPE, STRENGTH, WETTER, Made, Wander, WaterFilter
from sandlab.balance.water_filters import COOLERS, WITHOUT_PROBE, States, WaterFilters, blended, weights
from sandlab.methods.indices import working_bond
from tests.balance.luck import Luck
from tests.balance.small_plant import BATCH_US, MONDAY_US, plant_model

KG = {"bentonite": 11.0, "coal": 12.0, "new_sand": 20.0, "water": 28.0}


class Sand:
    """Batches of constant water; return sand, probe and tests as told."""

    def __init__(self) -> None:
        self.log = Log(plant_model(Luck()))
        self.filters = WaterFilters(self.log.plant, self.log, Wander())
        self.states = self.filters.start()

    def batch(self, tests: dict[str, float], probe: float | None = None) -> States:
        """One batch with results of its sand."""
        index = len(self.log.at)
        at = MONDAY_US + index * BATCH_US
        self.log.made(BatchMade(at, KG))
        self.filters.made[at] = Made(3.6, 3.6, 0.0, probe)
        for name, value in tests.items():
            self.log.tested(ResultKnown(name, value, at, at))
        measured = self.filters.measure(self.states, index)
        self.states = self.filters.step(measured, index)
        return measured


def test_weights_and_mixture_by_hand() -> None:
    """Odds of 3 to 1: means a quarter and three, variance within plus variance between (textbook)."""
    state = Sand().filters.start()[0]
    one = replace(state, gaussian=Gaussian(np.zeros(8), np.eye(8)), fit=-40.0)
    other = replace(state, gaussian=Gaussian(np.full(8, 2.0), 3.0 * np.eye(8)), fit=-40.0 + log(3.0))
    assert weights((one, other)) == pytest.approx([0.25, 0.75])
    both = blended((one, other))
    assert both.gaussian.mean == pytest.approx(np.full(8, 1.5))
    assert both.gaussian.covariance[0, 0] == pytest.approx(0.25 * 1.0 + 0.75 * 3.0 + 0.25 * 0.75 * 4.0)
    assert both.gaussian.covariance[0, 1] == pytest.approx(0.25 * 0.75 * 4.0)
    assert both.fit == other.fit


@pytest.mark.parametrize("cooler", [0, 1])
def test_the_cooler_of_a_plant_is_found(cooler: int) -> None:
    """Twelve days of hourly tests behind a calm and a lively cooler: the filters made for it win."""
    sd, memory_h = COOLERS[cooler]
    random, sand = np.random.default_rng(5), Sand()
    keep, stays = exp(-0.05 / memory_h), exp(-0.05 / sand.filters.alone.stirred_h)
    fresh = wetter = 0.0
    for number in range(20 * 24 * 12):
        wetter = stays * wetter + (1.0 - stays) * fresh
        fresh = keep * fresh + sd * sqrt(1.0 - keep * keep) * float(random.standard_normal())
        noise = random.standard_normal(3) * (1.2, 0.08, 0.10)
        tests = {"compactability": 42.0 + 27.0 * wetter + noise[0], "moisture": 3.6 + wetter + noise[1]}
        if number % 40 == 0:
            tests["return_moisture"] = 2.1 + wetter + noise[2]
        sand.batch(tests if number % 20 == 0 else {})
    found = weights(sand.states).reshape(len(COOLERS), -1).sum(axis=1)
    assert found[cooler] > 0.9


def test_with_a_belt_probe_one_filter_follows_it() -> None:
    """As if there were no other; when the probe has been out for an hour, several go on from there."""
    sand = Sand()
    alone = WaterFilter(sand.log.plant, sand.log, Wander(), sand.filters.made)
    state = alone.start()
    for number in range(60):
        tests = {"compactability": 43.0} if number % 20 == 0 else {}
        sand.batch(tests, probe=0.1 + 0.01 * (number % 3))
        state = alone.step(alone.measure(state, number), number)
    assert len(sand.states) == 1
    assert np.array_equal(sand.states[0].gaussian.mean, state.gaussian.mean)
    for _ in range(WITHOUT_PROBE):
        assert len(sand.batch({})) == 1
    before = sand.states[0].gaussian.mean
    several = sand.batch({})
    assert len(several) > 1
    assert blended(several).gaussian.mean == pytest.approx(before)


def test_expected_strength_is_that_of_the_working_bond() -> None:
    """Strength expected of wet sand leads back to the bond by the published formula; derivative by steps."""
    filter_ = Sand().filters.alone
    mean = filter_.start().gaussian.mean.copy()
    mean[WETTER], mean[DEMAND], mean[SLOPE], mean[BOND] = 0.12, 0.03, 25.0, 4.1
    made = Made(3.7, 3.6, 0.0, None)
    compactability = filter_._view("compactability", mean, made)[0]
    strength, row, _ = filter_._view(STRENGTH, mean, made)
    assert working_bond(strength, compactability).value == pytest.approx(4.1, rel=1e-6)
    for place in range(8):
        step = np.zeros(8)
        step[place] = 1e-5
        up, down = (filter_._view(STRENGTH, mean + sign * step, made)[0] for sign in (1.0, -1.0))
        assert row[place] == pytest.approx((up - down) / 2e-5, abs=1e-3)


def test_weak_sand_is_taken_to_be_too_wet() -> None:
    """Where the bond is known, a strength 12 kPa low asks for less water; strengths sharpen what is known."""
    told, low = Sand(), Sand()
    for sand in (told, low):
        for _ in range(48):
            sand.batch({"compactability": 42.0, STRENGTH: 160.0})
            for _ in range(19):
                sand.batch({})
        sand.batch({STRENGTH: 160.0 if sand is told else 148.0})
    wanted = [sand.filters.alone.wanted(blended(sand.states), 3.6, 0.0) for sand in (told, low)]
    # 12 kPa are 12/(6.895 * 4.1/15.29) = 6.5 points or 0.24 %; its share of the doubt is some of it
    assert 0.02 < wanted[0][0] - wanted[1][0] < 0.2
    silent = Sand()
    for _ in range(48):
        silent.batch({"compactability": 42.0})
        for _ in range(19):
            silent.batch({})
    silent.batch({})
    assert wanted[0][1] < 0.97 * silent.filters.alone.wanted(blended(silent.states), 3.6, 0.0)[1]


def test_a_doubtful_strength_is_told_once() -> None:
    """The sand's filter doubts a strength out of reach; the water's does not repeat it."""
    sand = Sand()
    for _ in range(3):
        sand.batch({"compactability": 42.0, STRENGTH: 160.0})
    sand.batch({STRENGTH: 20.0})
    assert not any(one.property == STRENGTH for one in blended(sand.states).doubts)
