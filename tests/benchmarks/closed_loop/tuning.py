"""Gives the marker its best gains, on the tuning seeds: `python -m tests.benchmarks closed_loop --tune`."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from itertools import product

import numpy as np

from sandlab.plant.closed import draw_case
from tests.benchmarks.closed_loop.courses import Factory, run
from tests.benchmarks.closed_loop.marker import WEIGHT, Marker
from tests.benchmarks.closed_loop.scores import STEERED, score

TRIALS: dict[str, dict[str, float]] = {
    f"trim {trim:g}, probe {probe:g}": {"trim": trim, "probe": probe}
    for trim, probe in product((0.3, 0.45, 0.6, 0.8), (0.2, 0.4, 0.6, 0.8))
} | {f"weight {weight:g}": {"weight": weight} for weight in (WEIGHT, 0.4, 0.6, 0.8, 1.0)}


def trial(gains: dict[str, float]) -> Factory:
    """What makes a marker with these gains."""
    return lambda model, line, column: Marker(model, **gains)


def tune(seeds: Sequence[int], processes: int) -> None:
    """Prints what each pair of gains, and other weights than the marker's, give on the tuning seeds."""
    with ProcessPoolExecutor(processes) as pool:
        found = {
            probes: np.array(list(pool.map(partial(_trials, probes=probes), seeds)))
            for probes in (True, False)
        }
    print(f"marker on seeds {seeds[0]} to {seeds[-1]}, scenario all, mean rms over seeds")
    print(f"  {'gains':24} {'clay':>8} {'volatiles':>10} {'compactability with probes':>28} {'without':>8}")
    for place, name in enumerate(TRIALS):
        clay, volatiles, wet = found[True][:, place].mean(axis=0)
        dry = found[False][:, place, 2].mean()
        print(f"  {name:24} {clay:8.3f} {volatiles:10.4f} {wet:28.2f} {dry:8.2f}")


def _trials(seed: int, *, probes: bool) -> list[list[float]]:
    """Rms of each trial on one seed."""
    courses = run(
        draw_case(seed, "all", 90),
        {name: trial(gains) for name, gains in TRIALS.items()},
        probes=probes,
    )
    scores = [score(course, 20.0) for course in courses.values()]
    return [[one.rms[name] for name in STEERED] for one in scores]
