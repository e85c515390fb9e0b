"""How near to target compactability can be held without probes: the best linear filter that knows the plant.

The return sand's moisture, the demand, the water meter and the bond wander with the plant's own sizes and
memories; the laboratory tests compactability, strength and moisture hourly and the return sand every second
hour. Strength tells of the water by the working bond (ICRI report 610). A Kalman filter with all these
figures known, clay too, without stops, disturbances, slopes and levels to be learned, is the bound: nobody
who sees the same tests is nearer on average. Covariance only (Kalman's equations, from memory).
"""

from __future__ import annotations

import numpy as np

from sandlab.plant.closed import Case
from sandlab.plant.closed.luck import PER_HOUR
from sandlab.plant.closed.sand import KPA_PER_PSI

HOURS, SETTLED = 300, 20
KNOWN_AFTER = 2  # batches from sampling to a known compactability; the others are taken to be as quick


def compactability_bound(case: Case) -> float:
    """Root mean square of compactability about target by batch that no filter of these tests can beat."""
    plant, settled = case.plant, case.settled
    fed = 100.0 * settled.water / plant.charge_kg
    plug = max(1, round(plant.bunker_batches * plant.plug_share))
    stirred = 1.0 / max(5.0, plant.bunker_batches - plug)
    room = (132.1 - plant.compactability_target) / plant.slope
    strength = KPA_PER_PSI * plant.bond * plant.clay_target * room * plant.slope / 15.29
    memories = np.array(
        [plant.cooled_moisture_memory, plant.demand_memory, plant.feeder_memory, plant.demand_memory]
    )
    sizes = np.array(
        [plant.cooled_moisture_sd, plant.demand_sd, plant.water_bias * fed, plant.bond_sd * room]
    )
    kept = np.exp(-1.0 / (PER_HOUR * memories))
    # states: moisture from the cooler, of the return sand, demand, error of the water meter, bond as moisture
    step = np.diag([kept[0], 1.0 - stirred, *kept[1:]])
    step[1, 0] = stirred
    walk = np.insert(sizes**2 * (1.0 - kept**2), 1, 0.0)
    scatter = plant.demand_scatter**2 + (plant.water_scatter * fed) ** 2
    wet = (plant.water_scatter * fed) ** 2 + plant.moisture_sd**2
    needs = np.array([0.0, 1.0, -1.0, 1.0, 0.0])
    tests = (
        (needs, (plant.compactability_sd / plant.slope) ** 2 + scatter, 1),
        (needs - np.eye(5)[4], (plant.strength_sd / strength * room) ** 2 + scatter, 1),
        (np.array([0.0, 1.0, 0.0, 1.0, 0.0]), wet, 1),
        (np.array([0.0, 1.0, 0.0, 0.0, 0.0]), plant.moisture_sd**2, 2),
    )
    random = np.random.default_rng(case.seed)
    now = np.diag(np.insert(sizes**2, 1, sizes[0] ** 2))
    before, off = now, []
    for hour in range(HOURS):
        sampled = int(random.uniform(0.0, 0.6) * PER_HOUR)
        for batch in range(PER_HOUR):
            now, before = (step @ one @ step.T + np.diag(walk) for one in (now, before))
            known = before if sampled < batch <= sampled + KNOWN_AFTER else now
            if hour >= SETTLED:
                off.append(needs @ known @ needs + scatter)
            if batch == sampled:
                before = now
                for row, variance, every in tests:
                    if hour % every == 0 and random.uniform() >= plant.missed:
                        shown = now @ row
                        now = now - np.outer(shown, shown) / (row @ shown + variance)
    return float(plant.slope * np.sqrt(np.mean(off)))
