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
    """The same with a laboratory of this scatter in compactability (points), blunt in the others alike.

    A 27th of it in moisture; 2 kPa of strength are about a point (working bond of usual sand, by hand).
    """
    plant = replace(case.plant, compactability_sd=sd, moisture_sd=sd / 27.0, strength_sd=2.0 * sd)
    return replace(case, plant=plant)


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


def test_strength_tells_of_the_water_as_far_as_the_bond_stays(case: Case) -> None:
    """A sharp strength lowers the bound while the bond hardly wanders, and less where it does."""
    sharp = replace(blunt(case, 1.5).plant, strength_sd=0.5)
    silent, told, unsteady = (
        compactability_bound(replace(case, plant=plant))
        for plant in (
            replace(sharp, strength_sd=1e4),
            replace(sharp, bond_sd=1e-4),
            replace(sharp, bond_sd=0.03),
        )
    )
    assert told < 0.9 * silent
    assert told < unsteady < silent
