"""The same case with one source of error taken away: what limits a controller.

Taking one away shows what it costs; the parts need not add up, since the sources work on each other.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sandlab.balance.stream import PlantModel
from sandlab.plant.closed import Case
from sandlab.plant.closed.rounds import scale_of
from tests.benchmarks.closed_loop import knowledge

Variant = Callable[[Case], tuple[Case, PlantModel]]


def _as_it_is(case: Case) -> tuple[Case, PlantModel]:
    return case, knowledge.plant_model(case)


def _exact_laboratory(case: Case) -> tuple[Case, PlantModel]:
    """Results without scatter, operators and blunders, on the laboratory's scale, at their usual times."""
    tests = {
        batch: tuple(replace(test, offset=scale_of(case.plant, test.property)[1]) for test in tests)
        for batch, tests in case.tests.items()
    }
    return _as_it_is(replace(case, tests=tests))


def _no_delay(case: Case) -> tuple[Case, PlantModel]:
    """Every result known when the sand is taken."""
    tests = {
        batch: tuple(replace(test, known_us=test.taken_us) for test in tests)
        for batch, tests in case.tests.items()
    }
    return _as_it_is(replace(case, tests=tests))


def _exact_feeders(case: Case) -> tuple[Case, PlantModel]:
    """Feeders and water meter deliver what is weighed, and certificates are true."""
    luck, ones = case.luck, np.ones(case.luck.batches)
    exact = replace(
        luck,
        bentonite=ones,
        carbon=ones,
        new_sand=ones,
        water=ones,
        slow=np.ones_like(luck.slow),
        clay_lots=tuple(replace(lot, certificate=1.0) for lot in luck.clay_lots),
        coal_lots=tuple(replace(lot, certificate=1.0) for lot in luck.coal_lots),
    )
    return _as_it_is(replace(case, luck=exact))


def _true_model(case: Case) -> tuple[Case, PlantModel]:
    """The controller starts from the plant's own wear, dust, cores, stock and sand:metal."""
    plant, model = case.plant, knowledge.plant_model(case)
    loop = replace(
        model.loop,
        sand_to_metal=plant.sand_to_metal * plant.known_metal,
        core_retention=plant.core_retention * plant.known_metal,
        spill=plant.spill,
        clay_wear_factor=plant.clay_wear * plant.known_metal,
        carbon_wear_factor=plant.carbon_wear * plant.known_metal,
        fixed_carbon_wear_factor=plant.carbon_wear * plant.coke_wear * plant.known_metal,
        bound_water=plant.bound_water,
        burnt_clay_to_fines=plant.burnt_to_fines,
        coke_yield=plant.coke_yield,
        carbon_ash=plant.carbon_ash,
        dust_active_clay=plant.dust_clay,
        dust_volatiles=plant.dust_combustibles,
        dust_fixed_carbon=plant.dust_combustibles,
        dust_inert_fines=plant.dust_fines,
        dust_grain=plant.dust_grain,
        core_volatiles=100.0 * plant.core_volatiles * plant.volatiles_calibration,
        core_fixed_carbon=100.0 * plant.core_carbon,
        core_inert_fines=100.0 * plant.core_fines,
    )
    return case, replace(model, loop=loop, stock_t=model.stock_t / plant.known_stock)


VARIANTS: dict[str, Variant] = {
    "": _as_it_is,
    "exact laboratory": _exact_laboratory,
    "no delay": _no_delay,
    "exact feeders": _exact_feeders,
    "true model": _true_model,
}
