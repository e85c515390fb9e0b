"""The streams of an hour: they close, and agree with published and worked numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sandlab.balance.flows import Flows, flows
from sandlab.balance.log import Log
from sandlab.balance.loop import Loop
from sandlab.balance.stream import HOUR_US, BatchMade, Production, ResultKnown
from sandlab.errors import InputError
from tests.balance.luck import Luck
from tests.balance.small_plant import plant_model


def hour(loop: Loop, kg: dict[str, float], *, sand: list[float], per_h: float = 1.0) -> Flows:
    """One batch of 1000 kg of dry return sand an hour."""
    model = replace(plant_model(Luck()), loop=loop, batches_per_h=per_h)
    model = replace(model, muller=replace(model.muller, batch_kg=1000.0, return_moisture=0.0))
    log = Log(model)
    log.made(BatchMade(0, kg))
    return flows(log, 0, HOUR_US, np.array(sand), loop)


NOTHING = {"bentonite": 0.0, "coal": 0.0, "new_sand": 0.0, "water": 0.0}


def test_clay_burned_by_the_published_wear_factor() -> None:
    """1000 kg of sand with 8 % of clay at sand:metal 3 and a wear factor of 0.4 lose 10.67 kg of clay,
    printed as "about 11 kg".

    foundry_lexicon, entry "Wear factor".
    """
    loop = Loop(sand_to_metal=3.0, clay_wear_factor=0.4, bound_water=0.0)
    found = hour(loop, NOTHING, sand=[8.0, 0.0, 0.0, 0.0])
    assert found.burned["active_clay"] == pytest.approx(10.67, abs=0.005)
    assert found.metal == pytest.approx(1000.0 / 3.0)


def test_new_sand_pushes_as_much_out() -> None:
    """150 kg of new sand per t poured at sand:metal 6 and 8 % of clay: the sand falls to 7.805 % and 11.7 kg
    of clay per t leave with the overflow.

    common_practice, rule of 150 kg; the numbers are the dilution 8/(1 + 0.025) and 150 kg of it.
    """
    loop = Loop(sand_to_metal=6.0, clay_wear_factor=0.0, carbon_wear_factor=0.0)
    per_batch = 1000.0 / 6.0 / 1000.0 * 150.0
    found = hour(loop, NOTHING | {"new_sand": per_batch / 0.998}, sand=[7.805, 0.0, 0.0, 0.0])
    per_t = 1000.0 * found.carried_out / found.metal
    # per t poured on the sand that went in, 1025 kg and not 1000 in the mould
    assert per_t * 1.025 == pytest.approx(150.0, rel=1e-9)
    assert per_t * 1.025 * 0.07805 == pytest.approx(11.7, abs=0.05)


def test_steam_of_the_worked_cooling_example() -> None:
    """1 t of dry sand with 10 kg of water, 120 to 45 C, cooling water at 20 C, evaporates 28.2 kg with c 0.9
    and L 2400; with this house's 0.85 and 2394 kJ/kg at 45 C it is 26.77 kg by hand:
    (1000 0.85 + 10 4.19) 75 / (2394 + 4.19 25).

    Derived, conservation of energy.
    """
    model = plant_model(Luck())
    muller = replace(
        model.muller,
        batch_kg=1010.0,
        return_moisture=100.0 * 10.0 / 1010.0,
        return_temperature=120.0,
        ambient_temperature=20.0,
        discharge_eta=0.75,
        work_kwh_per_t=0.0,
    )
    water = replace(model.feeders[-1].material, temperature=20.0)
    feeders = (*model.feeders[:-1], replace(model.feeders[-1], material=water))
    model = replace(model, muller=muller, feeders=feeders, batches_per_h=1.0)
    log = Log(model)
    by_hand = (1000.0 * 0.85 + 10.0 * 4.19) * 75.0 / (2394.0 + 4.19 * 25.0)
    log.made(BatchMade(0, NOTHING | {"water": by_hand}))
    found = flows(log, 0, HOUR_US, np.zeros(4), model.loop)
    assert found.steam_muller == pytest.approx(by_hand, rel=1e-9)
    assert by_hand == pytest.approx(26.77, abs=0.005)


def test_everything_that_comes_in_leaves() -> None:
    """Dry mass and water close to rounding for an ordinary day of several jobs."""
    model = plant_model(Luck())
    log = Log(model)
    for number in range(200):
        log.made(BatchMade(number * HOUR_US // 20, {"bentonite": 10.5 + number % 3, "water": 29.0}))
    log.poured(Production(0, 5 * HOUR_US, "grate", 25.0, 5.2, 1.0))
    log.tested(ResultKnown("return_temperature", 43.0, HOUR_US, HOUR_US))
    found = flows(log, 0, 10 * HOUR_US, np.array([8.0, 1.4, 2.1, 3.5]), model.loop)
    assert found.batches == 200 and found.hours == pytest.approx(10.0)
    assert found.comes == pytest.approx(found.leaves, rel=1e-12)
    assert found.fed["bentonite"] == pytest.approx(20.0 * 11.5, rel=1e-2)
    assert found.steam_muller > 0.0 and found.steam_after > found.steam_muller
    assert found.prepared - found.returned == pytest.approx(
        found.carried_out + found.gas + found.dust - found.core_sand, rel=1e-9
    )


def test_a_day_without_batches_is_refused() -> None:
    """With what to do."""
    model = plant_model(Luck())
    with pytest.raises(InputError, match="another day"):
        flows(Log(model), 0, HOUR_US, np.zeros(4), model.loop)
