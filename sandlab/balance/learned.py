"""What the sand filter has learned of the plant, in the plant's own units."""

from __future__ import annotations

from math import exp

import numpy as np

from sandlab.balance.kalman import Gaussian
from sandlab.balance.sand_filter import SandFilter
from sandlab.balance.stream import Estimated


def learned(sand_filter: SandFilter, state: Gaussian) -> dict[str, Estimated]:
    """Wear factors, relative errors of feeders and lots, bond, sources and jobs, each with its sd."""
    loop = sand_filter.plant.loop
    sds = np.sqrt(np.maximum(np.diag(state.covariance), 0.0)).tolist()
    mean = state.mean.tolist()

    def factor(start: float, place: int) -> Estimated:
        value = start * exp(mean[place])
        return Estimated(value, value * sds[place])

    found = {
        "clay_wear_factor": factor(loop.clay_wear_factor, sand_filter.clay_wear),
        "carbon_wear_factor": factor(loop.carbon_wear_factor, sand_filter.carbon_wear),
        "bond": factor(1.0, sand_filter.bond),
        "carbon_source": Estimated(mean[sand_filter.source.start], sds[sand_filter.source.start]),
        "fines_source": Estimated(mean[sand_filter.source.start + 1], sds[sand_filter.source.start + 1]),
    }
    for place, feeder in enumerate(sand_filter.log.feeders):
        if sand_filter.steering[place]:
            feed, lot = sand_filter.feed.start + place, sand_filter.lot.start + place
            found[f"feeder {feeder.id}"] = Estimated(mean[feed], sds[feed])
            found[f"lot {feeder.material.id}"] = Estimated(mean[lot], sds[lot])
    for job, number in sand_filter.log.jobs.items():
        found[f"wear of {job}"] = factor(1.0, sand_filter.jobs.start + number)
    return found
