"""The bound of compactability without probes, against what is known in closed form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sandlab.plant.closed import Case, draw_case
from tests.benchmarks.closed_loop.listening import compactability_bound


@pytest.fixture(scope="module")
def case() -> Case:
    """One plant."""
    return draw_case(101, "undisturbed", 2)


def blunt(case: Case, sd: float) -> Case:
    """The same with a laboratory of this scatter in compactability (points), and a 27th of it in moisture."""
    return replace(case, plant=replace(case.plant, compactability_sd=sd, moisture_sd=sd / 27.0))


def test_a_laboratory_that_tells_nothing_leaves_the_plant_s_own_spread(case: Case) -> None:
    """No news: slope times the spread of return moisture, demand, meter and one batch.

    Derived: a first-order lag behind an Ornstein-Uhlenbeck process keeps memory/(memory + lag) of its
    variance.
    """
    plant = case.plant
    plug = max(1, round(plant.bunker_batches * plant.plug_share))
    lag, memory = (plant.bunker_batches - plug) / 20.0, plant.cooled_moisture_memory
    fed = 100.0 * case.settled.water / plant.charge_kg
    variance = plant.cooled_moisture_sd**2 * memory / (memory + lag) + plant.demand_sd**2
    variance += (plant.water_bias * fed) ** 2 + plant.demand_scatter**2 + (plant.water_scatter * fed) ** 2
    assert compactability_bound(blunt(case, 1e4)) == pytest.approx(plant.slope * np.sqrt(variance), rel=0.03)


def test_better_tests_lower_the_bound_and_never_below_one_batch(case: Case) -> None:
    """From blunt to sharp the bound falls; the scatter of a single batch stays."""
    bounds = [compactability_bound(blunt(case, sd)) for sd in (5.0, 1.5, 0.05)]
    assert bounds == sorted(bounds, reverse=True)
    assert bounds[-1] > case.plant.slope * case.plant.demand_scatter
