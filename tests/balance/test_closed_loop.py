"""The recommendation closed round a loop: it settles, it does not hunt, and noise is not chased."""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sandlab.balance import AdviceInputs, Loop, Reading, TemperTest, advise
from sandlab.balance.composition import Floats
from tests.balance.by_hand import batch_content, batch_moisture, pass_through_loop
from tests.balance.plants import BENTONITE, LOOP, WATER, feeder, plant, with_tests

TRUE = replace(LOOP, clay_wear_factor=0.38)
FINE = (replace(feeder(BENTONITE, 12.0), resolution_kg=1e-3), *plant().feeders[1:])


def clay_series(
    start: float, cycles: int, *, delay: int = 0, noise: float = 0.0, true_loop: Loop = LOOP, **changes: Any
) -> Floats:
    """True clay of a loop dosed by the recommendation, with one test a cycle, known so many cycles late."""
    inputs = replace(plant(), feeders=FINE, **changes)
    generator = np.random.default_rng(99)
    clay, tests, series = start, deque([8.0] * 30, maxlen=30), []
    waiting = deque([8.0] * delay)
    for _ in range(cycles):
        waiting.append(clay + noise * float(generator.standard_normal()))
        tests.append(waiting.popleft())
        results = tuple(Reading(value, 240.0 * (30 - place)) for place, value in enumerate(tests))
        advice = advise(with_tests(inputs, {"active_clay": results}))
        returned, _ = pass_through_loop(clay, 1.0, 1.8, 4.0, true_loop)
        added = [
            (feeds.material, one.kg)
            for feeds, one in zip(inputs.feeders, advice.additions, strict=True)
            if feeds.material is not WATER
        ]
        clay = batch_content("active_clay", 1470.0, returned[0], added)
        series.append(clay)
    return np.array(series)


@pytest.mark.parametrize(("delay", "overshoot"), [(0, 0.25), (1, 0.45), (2, 0.7)])
def test_a_disturbance_dies_out(delay: int, overshoot: float) -> None:
    """A loop that starts 1 % off comes back to target and stays, with results up to two cycles late."""
    series = clay_series(7.0, 200, delay=delay)
    assert np.abs(series[-10:] - 8.0).max() < 0.02
    assert series.max() < 8.0 + overshoot


def test_following_the_last_test_in_full_grows() -> None:
    """The same loop with results two cycles late, each followed in full, swings wider and wider."""
    series = clay_series(7.9, 40, delay=2, weight=0.99, correction=1.0)
    assert np.abs(series[-8:] - 8.0).max() > 3.0 * np.abs(series[:8] - 8.0).max()


def test_a_wrong_wear_factor_leaves_an_offset_within_tolerance() -> None:
    """Wear 15 % above the plant value costs about twice what one cycle burns more, and no drift."""
    series = clay_series(8.0, 120, true_loop=TRUE)
    extra = 0.95 * (0.38 - 0.33) / 6 * 8.0
    assert 1.5 * extra < 8.0 - series[-1] < 2.2 * extra < 0.2
    assert abs(series[-1] - series[-30]) < 0.005


def test_noise_of_the_tests_reaches_the_sand_weakened() -> None:
    """With a test noise of 0.3 % the sand moves half as much, and far less than on full correction."""
    filtered = np.std(clay_series(8.0, 400, noise=0.3)[50:])
    in_full = np.std(clay_series(8.0, 400, noise=0.3, weight=0.99, correction=1.0)[50:])
    assert filtered < 0.55 * 0.3
    assert filtered < 0.6 * in_full


def watered(inputs: AdviceInputs, true_moisture: float, true_offset: float, hours: int) -> list[float]:
    """Compactability of a plant whose return sand is wetter and whose sand is thirstier than assumed."""
    tests: deque[tuple[float, float]] = deque(maxlen=30)
    present, series = 30.0, []
    for _ in range(hours):
        kg = {one.id: one.present_kg for one in inputs.feeders} | {"water": present}
        moisture = batch_moisture(inputs, kg, true_moisture, 38.0)
        compactability = 42.0 + 24.0 * (moisture - (3.787 + true_offset))
        series.append(compactability)
        tests.append((compactability, present))
        known = tuple(
            TemperTest(60.0 * (len(tests) - place), min(max(value, 1.0), 99.0), None, water)
            for place, (value, water) in enumerate(tests)
        )
        feeders = (*inputs.feeders[:-1], replace(inputs.feeders[-1], present_kg=present))
        present = advise(replace(inputs, feeders=feeders, temper_tests=known)).additions[-1].kg
    return series


def test_water_finds_its_level() -> None:
    """No probes, 0.4 % off in return moisture and 0.3 % in the curve: compactability still comes home."""
    bare = {name: results for name, results in plant().tests.items() if not name.startswith("return")}
    inputs = replace(plant(), tests=bare)
    series = watered(inputs, true_moisture=1.8, true_offset=0.3, hours=40)
    assert abs(series[0] - 42.0) > 8.0
    assert max(abs(value - 42.0) for value in series[20:]) < 1.5
