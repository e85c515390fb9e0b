"""The sand on its way round: nothing is lost, burn-out as published, and the memory of the loop."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sandlab.charts import lag1_autocorrelation
from sandlab.plant.loop import Circuit, Dose, Surroundings
from sandlab.plant.parameters import (
    CLAY,
    DRY,
    INERT_FINES,
    NEW_CLAY,
    USUAL_SAND,
    VOLATILES,
    WATER,
    Parameters,
)
from sandlab.plant.running import settle
from sandlab.plant.sand import active_clay, compactability, properties

BARE = Parameters(
    spill=0.0, carry_out=0.0, dust_grain=0.0, dust_clay=0.0, dust_combustibles=0.0, dust_fines=0.0
)


def around(circuit: Circuit, *, sand_to_metal: float = 6.0, core_share: float = 0.05) -> Surroundings:
    """Usual surroundings of every plant of a circuit."""
    ones = np.ones(circuit.cells.shape[2])
    return Surroundings.of(
        circuit.own, 21.0 * ones, sand_to_metal * ones, core_share * ones, 2.1 * ones, 0.0 * ones
    )


def test_sand_in_is_sand_out_and_stock_change() -> None:
    """Dry sand and water close to 1e-9 after every single batch, with wild doses and a long stop."""
    random = np.random.default_rng(5)
    circuit = Circuit.filled([Parameters(), Parameters(spill=0.2, charge_kg=1100.0)])
    before, ledger = circuit.stock(), circuit.ledger
    for number in range(600):
        dose = Dose(
            *(random.uniform(0.0, most, 2) for most in (60.0, 25.0, 15.0)), random.uniform(0.7, 1.0, 2)
        )
        met = around(circuit, sand_to_metal=random.uniform(3.0, 9.0), core_share=random.uniform(0.0, 0.6))
        if number % 100 == 50:
            circuit.rest(np.array([48.0, 0.5]), met.ambient)
        circuit.store(circuit.mull(circuit.charge(), dose, met.ambient), met)
        after = circuit.stock()
        np.testing.assert_allclose(after[0], before[0] + ledger.dry_in - ledger.dry_out, rtol=1e-9)
        np.testing.assert_allclose(after[1], before[1] + ledger.water_in - ledger.water_out, rtol=1e-9)
    assert circuit.cells.min() >= 0.0
    assert circuit.line.min() >= 0.0
    assert (ledger.dry_out > 1000.0).all()


def test_burn_out_of_one_pass() -> None:
    """Foundry lexicon, entry "Wear factor": 1000 kg sand at 8 % clay, sand:metal 3, factor 0.4: about 11 kg.

    Exactly 0.4/3 of 80 kg is 10.67 kg; what is not bound water stays in the sand as fines or baked on.
    """
    plant = replace(BARE, clay_wear=0.4, bound_water=0.05)
    circuit = Circuit.filled([plant])
    sand = np.zeros((9, 1))
    sand[0], sand[CLAY] = 920.0, 80.0
    after = circuit.pour(sand, around(circuit, sand_to_metal=3.0, core_share=0.0))
    assert sand[CLAY, 0] - after[CLAY, 0] == pytest.approx(11.0, abs=0.5)
    assert sand[CLAY, 0] - after[CLAY, 0] == pytest.approx(10.67, abs=0.005)
    assert after[DRY].sum() == pytest.approx(1000.0 - 0.05 * 32.0 / 3.0)


def test_evaporation_cools_as_published() -> None:
    """Foundry lexicon, entry "Used sand cooling": 1 % of water evaporated cools the sand about 27 K.

    With all heat leaving as vapour; the tolerance covers the printed spread of heat capacities (24 to 27 K).
    """
    plant = Parameters(evaporating_share=1.0, muller_rise=0.0, new_sand_kg=0.0)
    circuit = Circuit.filled([plant])
    nothing = np.zeros(1)
    batch = circuit.charge()
    dry = float(batch[DRY].sum())
    prepared = circuit.mull(batch, Dose(nothing, nothing, nothing, np.ones(1)), np.array([20.0]))
    cooled = float((batch[-1] - prepared[-1])[0]) / dry
    evaporated = 100.0 * float((batch[WATER] - prepared[WATER])[0]) / dry
    assert cooled / evaporated == pytest.approx(25.5, abs=2.0)


def test_the_recipe_holds_the_target() -> None:
    """A settled plant makes sand on target with a recipe of ordinary size.

    Trade note on automatic lines: 0.8-1.0 % bentonite, 0.4-0.5 % coal dust, up to 3 % water; the loop of this
    plant with few cores needs somewhat less clay and runs a little more coal.
    """
    circuit, (recipe,) = settle([Parameters()])
    ones = np.ones(1)
    dose = Dose(recipe.water * ones, recipe.bentonite * ones, recipe.carbon * ones, 0.988 * ones)
    prepared = circuit.mull(circuit.charge(), dose, 21.0 * ones)
    level = circuit.own["temper_level"]
    assert float(active_clay(prepared)[0]) == pytest.approx(8.0, abs=0.01)
    assert float(compactability(prepared, level)[0]) == pytest.approx(42.0, abs=0.05)
    assert properties(prepared, level)["volatiles"][0] == pytest.approx(1.4, abs=0.01)
    assert 0.5 < recipe.bentonite / 15.0 < 1.0
    assert 0.4 < recipe.carbon / 15.0 < 0.7
    assert 1.0 < recipe.water / 15.0 < 3.0


def test_a_changed_dose_shows_slowly() -> None:
    """Published residence in the loop is 10 to 20 cycles; a step is a geometric series with that memory."""
    circuit, (recipe,) = settle([Parameters()])
    ones = np.ones(1)
    met = around(circuit, sand_to_metal=6.09, core_share=0.047)
    dose = Dose(recipe.water * ones, (recipe.bentonite + 2.0) * ones, recipe.carbon * ones, 0.988 * ones)
    course = []
    for _ in range(8000):
        prepared = circuit.mull(circuit.charge(), dose, met.ambient)
        course.append(float(active_clay(prepared)[0]))
        circuit.store(prepared, met)
    steady, start = course[-1], course[0]
    reached = next(
        n for n, value in enumerate(course) if value - start > (1.0 - np.exp(-1.0)) * (steady - start)
    )
    cycle = float((circuit.stock()[0] / circuit.drawn_dry)[0])
    print(f"cycle {cycle:.0f} batches, time constant {reached / cycle:.1f} cycles")
    assert 8.0 < reached / cycle < 20.0
    # By hand: 2 kg are 1.778 kg of clay, less 8 % for the greater total; a cycle keeps what is neither burnt
    # (0.95 x 0.33/6.09), extracted (0.4 %), carried out (0.2 %) nor dumped (about 2 % of the returning sand).
    kept = (1.0 - 0.95 * 0.33 / 6.09) * 0.996 * 0.998 * 0.98
    step = 100.0 * 1.778 * 0.92 / 1515.0
    assert steady - 8.0 == pytest.approx(step / (1.0 - kept), rel=0.1)


def test_the_loop_remembers_white_noise() -> None:
    """Doses without any memory give hourly clay that resembles the last hour's: the loop does that."""
    random = np.random.default_rng(3)
    circuit, (recipe,) = settle([Parameters()])
    ones = np.ones(1)
    met = around(circuit, sand_to_metal=6.09, core_share=0.047)
    hourly = []
    for number in range(6000):
        bentonite = recipe.bentonite * (1.0 + 0.3 * random.standard_normal(1))
        dose = Dose(recipe.water * ones, np.maximum(0.0, bentonite), recipe.carbon * ones, 0.988 * ones)
        prepared = circuit.mull(circuit.charge(), dose, met.ambient)
        # The return sand carries the memory; the prepared sand has this batch's own dose on top.
        if number % 20 == 0:
            hourly.append(float(active_clay(circuit.cells[-1])[0]))
        circuit.store(prepared, met)
    lag1 = lag1_autocorrelation(hourly[50:])
    print(f"hourly clay of the return sand under white-noise dosing: lag-1 {lag1:.2f}")
    assert lag1 is not None
    assert lag1 > 0.8


def test_usual_sand_is_whole() -> None:
    """The dry shares a circuit starts from add up to 1."""
    assert sum(USUAL_SAND[DRY]) == pytest.approx(1.0)
    assert USUAL_SAND[CLAY] + USUAL_SAND[NEW_CLAY] == pytest.approx(0.08)
    assert USUAL_SAND[VOLATILES] < USUAL_SAND[INERT_FINES]
