"""Disturbances of the scenarios: what comes over a plant, when, and how far.

The sizes were written down before any controller was tuned and stay. Times count working days of 24 running
hours from the start; a run that is shorter than 64 working days draws all of them in proportion.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

WHAT = ("ambient", "bentonite", "carbon", "water", "assay", "coal", "cores", "metal")
DAYS = 64.0  # working days in 90 days from a Monday


@dataclass(frozen=True, slots=True)
class Upset:
    """One disturbance: its size is drawn between two ends, its sign kept; it grows over `ramp` of its length.

    what: the stream it acts on
    start, length: working days of a run of DAYS, the start drawn within two days after
    """

    what: str
    low: float
    high: float
    unit: str
    start: float
    length: float
    ramp: float = 0.0


SCENARIOS: dict[str, tuple[Upset, ...]] = {
    "undisturbed": (),
    "hot_spell": (
        Upset("ambient", 6.0, 12.0, "K in hall and return sand", 24.0, 5.0, 0.2),
        Upset("ambient", 6.0, 12.0, "K in hall and return sand", 44.0, 5.0, 0.2),
    ),
    "feeder_drift": (
        Upset("bentonite", -0.16, -0.08, "of the feed", 24.0, 14.0, 0.8),
        Upset("carbon", -0.18, -0.10, "of the feed", 34.0, 12.0, 0.1),
        Upset("bentonite", 0.06, 0.12, "of the feed", 46.0, 12.0, 0.5),
        Upset("water", -0.05, -0.02, "of the feed", 40.0, 8.0, 0.5),
    ),
    "supplier_change": (
        Upset("assay", -0.15, -0.07, "of the bentonite's assay", 30.0, 20.0),
        Upset("coal", -0.12, -0.05, "of the coal's volatiles", 26.0, 20.0),
    ),
    "job_mix": (
        Upset("cores", 0.10, 0.25, "kg core sand per kg metal more", 25.0, 6.0),
        Upset("metal", -0.25, -0.15, "of sand:metal", 36.0, 6.0),
        Upset("cores", 0.10, 0.25, "kg core sand per kg metal more", 48.0, 4.0),
        Upset("metal", 0.10, 0.20, "of sand:metal", 55.0, 5.0),
    ),
}
SCENARIOS["all"] = tuple(upset for upsets in SCENARIOS.values() for upset in upsets)


def acting(scenario: str, random: np.random.Generator, day: Floats) -> dict[str, Floats]:
    """Stream -> how far the scenario acts on it at each working day (a fraction of days is welcome)."""
    effect = {what: np.zeros(day.size) for what in WHAT}
    scale = min(1.0, float(day[-1]) / DAYS) if day.size else 1.0
    for upset in SCENARIOS[scenario]:
        size = random.uniform(upset.low, upset.high)
        age = day / scale - upset.start - 2.0 * random.uniform()
        growth = np.clip(age / (upset.ramp * upset.length), 0.0, 1.0) if upset.ramp > 0.0 else 1.0
        effect[upset.what] += np.where((age >= 0.0) & (age < upset.length), size * growth, 0.0)
    return effect
