"""One pass of the loop closes, agrees with the equations written out, and steady states are steady."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from sandlab.balance import Loop, Target
from sandlab.balance.loop import GREATEST_BURN, burnt_share, cycle, loop_problems
from sandlab.balance.steady import steady_makeup, steady_state
from sandlab.errors import InputError
from tests.balance.by_hand import pass_through_loop
from tests.balance.plants import BENTONITE, COAL, LOOP, NEW_SAND


def random_loop(generator: np.random.Generator) -> Loop:
    """A loop anywhere in and beyond the published ranges."""
    values = {item.name: float(generator.uniform(0.0, 0.5)) for item in fields(Loop)}
    values["sand_to_metal"] = float(generator.uniform(2.0, 12.0))
    values |= {name: float(generator.uniform(0.0, 3.0)) for name in values if name.endswith("wear_factor")}
    values |= {name: float(generator.uniform(0.0, 3.0)) for name in values if name.startswith("core_")}
    return Loop(**(values | {"core_retention": float(generator.uniform(0.0, 1.0))}))


@pytest.mark.parametrize("case", range(100))
def test_one_pass_agrees_with_the_equations_and_closes(case: int) -> None:
    """Return sand, gas, dust and core sand are those of the equations by hand; mass closes to 1e-9."""
    generator = np.random.default_rng([20_260, case])
    loop, sand = random_loop(generator), generator.uniform(0.0, 12.0, 4)
    found = cycle(sand, loop)
    expected, masses = pass_through_loop(*sand.tolist(), loop)
    assert found.composition == pytest.approx(expected[:4], abs=1e-9)
    assert float(found.gas_kg) == pytest.approx(masses["gas"], abs=1e-9)
    assert float(found.dust_kg) == pytest.approx(masses["dust"], abs=1e-9)
    closing = 100.0 + found.core_kg - float(found.returned_kg + found.gas_kg + found.dust_kg)
    assert abs(closing) < 1e-9
    assert float(found.gas_kg) > -1e-9


def test_many_sands_at_once_are_the_same_as_one_by_one() -> None:
    """The pass takes an array of compositions."""
    sands = np.random.default_rng(5).uniform(0.0, 12.0, (5, 7, 4))
    together = cycle(sands, LOOP)
    assert together.composition.shape == (5, 7, 4)
    assert together.composition[3, 2] == pytest.approx(cycle(sands[3, 2], LOOP).composition, abs=1e-12)


def test_a_loop_without_losses_returns_what_it_was_given() -> None:
    """No wear, no dust, no cores: nothing changes."""
    idle = Loop(sand_to_metal=5.0, clay_wear_factor=0.0, carbon_wear_factor=0.0)
    assert cycle([8.0, 1.0, 2.0, 3.0], idle).composition.tolist() == [8.0, 1.0, 2.0, 3.0]


def test_burning_is_capped_and_spill_returns_unburnt() -> None:
    """A tiny sand:metal burns 95 % at most; spilled sand keeps its share."""
    assert burnt_share(3.0, 1.0) == GREATEST_BURN
    assert burnt_share(0.4, 4.0, 0.25) == pytest.approx(0.075)


@pytest.mark.parametrize("new_sand_kg", [0.0, 20.0, 60.0])
def test_makeup_holds_the_target_through_a_full_cycle(new_sand_kg: float) -> None:
    """Batch after batch with the steady make-up the steered components stay on target."""
    targets = (Target("active_clay", 8.0, 0.6), Target("volatiles", 1.0, 0.3))
    materials = (BENTONITE, COAL, NEW_SAND)
    found = steady_makeup(targets, materials, {"new_sand": new_sand_kg}, LOOP, 1470.0)
    assert found.prepared["active_clay"] == pytest.approx(8.0, abs=1e-7)
    assert found.prepared["volatiles"] == pytest.approx(1.0, abs=1e-7)
    same = steady_state(found.kg, materials, LOOP, 1470.0, {"active_clay": 5.0, "inert_fines": 1.0})
    assert same.prepared == pytest.approx(dict(found.prepared), abs=1e-5)


def test_more_new_sand_asks_for_more_clay_and_lowers_fines() -> None:
    """New sand dilutes: it costs clay and carries fines out with the overflow."""
    targets, materials = (Target("active_clay", 8.0, 0.6),), (BENTONITE, NEW_SAND)
    little, much = (steady_makeup(targets, materials, {"new_sand": kg}, LOOP, 1470.0) for kg in (10.0, 60.0))
    assert much.kg["bentonite"] > little.kg["bentonite"] + 3.0
    assert much.prepared["inert_fines"] < little.prepared["inert_fines"]


def test_makeup_refuses_targets_that_nothing_steers() -> None:
    """Two targets and one clay: the message says what is needed."""
    targets = (Target("active_clay", 8.0, 0.6), Target("volatiles", 1.0, 0.3))
    with pytest.raises(InputError, match="one clay, carbon or premix for each target"):
        steady_makeup(targets, (BENTONITE,), {}, LOOP, 1470.0)


def test_sand_that_never_settles_is_refused() -> None:
    """A sealed loop into which fines are always added has no steady state within reach."""
    sealed = replace(LOOP, core_sand_t_per_t=0.0, dust_inert_fines=0.0, clay_wear_factor=0.0)
    with pytest.raises(InputError, match="never settles"):
        steady_state({"coal": 1e-4}, (COAL,), sealed, 1470.0, {"inert_fines": 1.0})


def test_spoiled_numbers_are_refused_by_name() -> None:
    """Every impossible field of a loop is reported at once."""
    spoiled = replace(
        LOOP, spill=1.5, sand_to_metal=0.0, dust_grain=float("nan"), core_volatiles=-1.0, volatiles_ash=0.9
    )
    text = " ".join(str(problem) for problem in loop_problems(spoiled))
    names = ("spill", "sand_to_metal", "dust_grain", "core sand, volatiles", "coke_yield and volatiles_ash")
    assert all(name in text for name in names)
