"""Scores of a course, and means over seeds with intervals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sandlab.plant.closed.sand import Floats
from tests.benchmarks.closed_loop.courses import BANDED, TOLD, Course

STEERED = ("active_clay", "volatiles", "compactability")
RETURNED = {"active_clay": "returned_clay", "volatiles": "returned_volatiles"}
BATCHES = 20


@dataclass(frozen=True, slots=True)
class Band:
    """How often the 90 % band held the truth of the hour, its mean width, the rms error of its middle."""

    inside: float
    width: float
    error: float


@dataclass(frozen=True, slots=True)
class Score:
    """One controller on one case, scored on the laboratory's scale.

    rms: property -> root mean square of true sand from target, over batches
    bands: ("prepared" or "returned", component) -> band
    """

    controller: str
    seed: int
    rms: dict[str, float]
    mean: dict[str, float]
    kg_per_t: float
    bands: dict[tuple[str, str], Band]
    seconds: float


def score(course: Course, first_day: float) -> Score:
    """Scores a course from a working day on."""
    case = course.case
    scored = case.luck.day >= first_day
    target = {
        "active_clay": case.plant.clay_target,
        "volatiles": case.plant.volatiles_target,
        "compactability": case.plant.compactability_target,
    }
    off = {name: course.true[name][scored] - target[name] for name in STEERED}
    return Score(
        course.name,
        case.seed,
        {name: float(np.sqrt(np.mean(values**2))) for name, values in off.items()},
        {name: float(values.mean()) for name, values in off.items()},
        float(course.kg[1:3][:, scored].sum() / course.metal_t[scored].sum()),
        _bands(course, first_day),
        course.seconds,
    )


def _bands(course: Course, first_day: float) -> dict[tuple[str, str], Band]:
    numbers = [n for n in course.estimates if course.case.luck.day[n] >= first_day]
    bands = {}
    for place, which in enumerate(("prepared", "returned")):
        for name in TOLD if which == "prepared" else BANDED:
            true = course.true[RETURNED[name] if which == "returned" else name]
            pairs = [
                (float(true[n : n + BATCHES].mean()), thought[name])
                for n in numbers
                if name in (thought := course.estimates[n][place])
            ]
            if not pairs:
                continue
            error = np.array([estimate.value - truth for truth, estimate in pairs])
            half = np.array([0.5 * (estimate.band[1] - estimate.band[0]) for _, estimate in pairs])
            bands[which, name] = Band(
                float(np.mean(np.abs(error) <= half)),
                float(2.0 * half.mean()),
                float(np.sqrt(np.mean(error**2))),
            )
    return bands


def interval(values: Floats, *, draws: int = 2000) -> tuple[float, float]:
    """The 90 % interval of a mean over seeds, by drawing seeds with replacement."""
    random = np.random.default_rng(1)
    means = values[random.integers(0, values.size, (draws, values.size))].mean(axis=1)
    return float(np.quantile(means, 0.05)), float(np.quantile(means, 0.95))


def gap_closed(
    marker: Sequence[float], candidate: Sequence[float], bound: Sequence[float], *, draws: int = 2000
) -> tuple[float, float, float]:
    """(marker - candidate)/(marker - bound) of the means over seeds, and its 90 % interval over seeds."""
    three = np.array([marker, candidate, bound])
    random = np.random.default_rng(1)
    picks = three[:, random.integers(0, three.shape[1], (draws, three.shape[1]))].mean(axis=2)
    share = (picks[0] - picks[1]) / (picks[0] - picks[2])
    middle = three.mean(axis=1)
    closed = (middle[0] - middle[1]) / (middle[0] - middle[2])
    return float(closed), float(np.quantile(share, 0.05)), float(np.quantile(share, 0.95))
