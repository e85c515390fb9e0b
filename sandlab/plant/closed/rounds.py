"""The laboratory's rounds: which sand is taken when, how far a result is off, and when it is known.

Hourly tests, return sand every second hour, methylene blue in every shift, furnace tests daily, the wash
weekly. Some are missed, some late, a few are blunders. Each operator sees the end point of the titration
differently; their mean and one calibration are the laboratory's own scale.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from sandlab.plant.closed.luck import HOUR_US, PER_HOUR, START_US, WEEK_H, WORKED_H, Floats, Luck, stream
from sandlab.plant.closed.ranges import Plant

RETURN = ("return_moisture", "return_temperature")
# Usual minutes until a result is known; common practice.
DELAY_MIN = {
    "compactability": 4.0,
    "moisture": 14.0,
    "green_compression_strength": 7.0,
    "sand_temperature": 2.0,
    "return_moisture": 15.0,
    "return_temperature": 2.0,
    "active_clay": 55.0,
    "volatiles": 120.0,
    "loss_on_ignition": 180.0,
    "afs_clay": 300.0,
}
HOURLY = ("compactability", "moisture", "green_compression_strength", "sand_temperature")


@dataclass(frozen=True, slots=True)
class Test:
    """One test that will be made of sand of one batch: result = true * gain + offset."""

    property: str
    batch: int
    gain: float
    offset: float
    taken_us: int
    known_us: int

    __test__ = False


def scatter_of(plant: Plant) -> dict[str, float]:
    """Standard deviation of one result by one operator."""
    return {
        "compactability": plant.compactability_sd,
        "moisture": plant.moisture_sd,
        "green_compression_strength": plant.strength_sd,
        "sand_temperature": plant.temperature_sd,
        "return_moisture": plant.moisture_sd,
        "return_temperature": plant.temperature_sd,
        "active_clay": plant.clay_sd,
        "volatiles": plant.volatiles_sd,
        "loss_on_ignition": plant.loss_sd,
        "afs_clay": plant.washing_sd,
    }


def scale_of(plant: Plant, name: str) -> tuple[float, float]:
    """Gain and offset of the laboratory's own scale over the truth."""
    gain = {"active_clay": plant.clay_calibration, "volatiles": plant.volatiles_calibration}
    offset = {"compactability": plant.compactability_offset}
    return gain.get(name, 1.0), offset.get(name, 0.0)


def tests_due(plant: Plant, luck: Luck, seed: int) -> dict[int, tuple[Test, ...]]:
    """Batch -> tests of its sand."""
    random = stream(seed, "tests")
    operators = random.standard_normal(3)
    operators = plant.operator_sd * (operators - operators.mean()) / operators.std()
    last = (int(luck.at_us[-1]) - START_US) // HOUR_US
    due: dict[int, list[Test]] = defaultdict(list)
    for hour in range(int(last) + 1):
        if hour % WEEK_H >= WORKED_H:
            continue
        taken = START_US + hour * HOUR_US + int(random.uniform(0.0, 0.6) * HOUR_US)
        batch = int(np.searchsorted(luck.at_us, taken, side="right")) - 1
        standing = batch < 0 or taken - int(luck.at_us[batch]) > 4 * HOUR_US // PER_HOUR
        for name in _names(hour):
            test = _test(plant, name, batch, taken, operators[_operator(hour)], random)
            if random.uniform() >= plant.missed and not standing:
                due[batch].append(test)
    return {batch: tuple(tests) for batch, tests in due.items()}


def _names(hour: int) -> tuple[str, ...]:
    """Properties tested in the hour that starts so many hours after a Monday 06:00."""
    names = [*HOURLY]
    if hour % 2 == 0:
        names += RETURN
    if hour % 8 == 1:
        names.append("active_clay")
    if hour % 24 == 4:
        names += ["volatiles", "loss_on_ignition"]
    if hour % WEEK_H == 27:
        names.append("afs_clay")
    return tuple(names)


def _operator(hour: int) -> int:
    """The three teams move on by one shift each week."""
    return (hour // 8 + hour // WEEK_H) % 3


def _test(
    plant: Plant, name: str, batch: int, taken: int, operator: float, random: np.random.Generator
) -> Test:
    draws: Floats = random.uniform(size=4)
    scatter = scatter_of(plant)[name] * float(random.standard_normal())
    if draws[0] < plant.blunders:
        scatter *= 6.0
    gain, offset = scale_of(plant, name)
    if name == "active_clay":
        offset += operator
    minutes = DELAY_MIN[name] * (0.8 + 0.7 * draws[1])
    if draws[2] < plant.late:
        minutes += 60.0 * plant.late_hours * (0.5 + draws[3])
    return Test(name, batch, gain, float(offset + scatter), taken, taken + int(minutes * HOUR_US / 60.0))
