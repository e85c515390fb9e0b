"""Temper water that learns: slope, probe noise, stops, limits; all by the numbers of a made-up muller."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sandlab.balance.heat import SAND_HEAT, WATER_HEAT, latent_heat
from sandlab.balance.muller_charge import water_balance
from sandlab.balance.recommender import Recommender
from sandlab.balance.stream import HOUR_US, BatchMade, PlantModel, ProbeReading, ResultKnown
from tests.balance.luck import Luck
from tests.balance.small_plant import BATCH_US, MONDAY_US, plant_model

KG = {"bentonite": 11.0, "coal": 12.0, "new_sand": 20.0}


def fine(model: PlantModel) -> PlantModel:
    """The same plant with a water feeder that can be set to any gram."""
    feeders = [
        replace(f, resolution_kg=0.001, greatest_step_kg=60.0) if f.id == "water" else f
        for f in model.feeders
    ]
    return replace(model, feeders=tuple(feeders))


class Bench:
    """A muller whose sand is as wet as told, wants as much moisture as told and answers at a slope."""

    def __init__(
        self, *, wetter: float = 0.0, slope: float = 27.0, probe_sd: float = 0.0, seed: int = 1
    ) -> None:
        self.model = fine(plant_model(Luck()))
        self.recommender = Recommender(self.model)
        self.random = np.random.default_rng(seed)
        self.wetter, self.slope, self.probe_sd, self.at = wetter, slope, probe_sd, MONDAY_US
        self.demand = 3.9

    def batch(self, *, probed: bool, test: bool = False, wetter: float | None = None) -> tuple[float, float]:
        """Water asked for and the compactability it gives."""
        wet = 2.1 + (self.wetter if wetter is None else wetter)
        seen = wet + self.probe_sd * float(self.random.standard_normal()) if probed else None
        water = self.recommender.water(self.at, seen, 38.0, KG)
        balance = water_balance(
            self.model.muller, 1500.0, wet, 38.0,
            [(f, KG[f.id]) for f in self.model.feeders if f.id in KG],
            discharge_offset=0.0, water_temperature=15.0,
        )  # fmt: skip
        compactability = 42.0 + self.slope * (balance.moisture(water) - self.demand)
        self.recommender.note(BatchMade(self.at, KG | {"water": water}, None, seen, 38.0))
        if test:
            noise = self.random.standard_normal(2) * (1.2, 0.06)
            for name, value in (
                ("compactability", compactability + noise[0]),
                ("moisture", balance.moisture(water) + noise[1]),
            ):
                taken = ResultKnown(name, float(np.clip(value, 1, 99)), self.at, self.at + BATCH_US // 2)
                self.recommender.note(taken)
        self.at += BATCH_US
        return water, compactability

    def hours(self, count: int, *, probed: bool = True) -> list[float]:
        """Compactability of so many hours of batches, the first of each tested."""
        return [self.batch(probed=probed, test=n % 20 == 0)[1] for n in range(20 * count)]


def test_balance_of_water_and_heat_by_hand() -> None:
    """Moisture of a charge and water for it, against the balances written out."""
    model = plant_model(Luck())
    feeder = model.feeders[0]
    balance = water_balance(
        model.muller, 1500.0, 2.0, 40.0, [(feeder, 10.0)], discharge_offset=1.0, water_temperature=15.0
    )  # fmt: skip
    discharge = 22.0 + 0.7 * 18.0 + 1.0
    heat = (1470.0 * SAND_HEAT + 30.0 * WATER_HEAT) * (40.0 - discharge)
    heat += (9.0 * SAND_HEAT + 1.0 * WATER_HEAT) * (20.0 - discharge) + 7200.0 * 1.51
    gone = (heat + 25.0 * WATER_HEAT * (15.0 - discharge)) / latent_heat(discharge)
    water = 30.0 + 1.0 + 25.0 - gone
    assert balance.moisture(25.0) == pytest.approx(100.0 * water / (1479.0 + water), rel=1e-12)
    assert balance.water_for(balance.moisture(25.0)) == pytest.approx(25.0, rel=1e-9)


@pytest.mark.parametrize("probed", [True, False])
def test_water_finds_its_level(probed: bool) -> None:
    """Sand wetter than usual and thirstier than published: within a day compactability is home."""
    bench = Bench(wetter=-0.3)
    bench.demand = 4.3
    series = bench.hours(24, probed=probed)
    assert abs(series[0] - 42.0) > 3.0
    assert abs(np.mean(series[-100:]) - 42.0) < 1.0


def test_a_step_of_the_probe_is_fed_forward() -> None:
    """Return sand 0.4 % wetter from one batch to the next: most of 6 kg of water goes in a few batches."""
    bench = Bench()
    bench.hours(12)
    before, _ = bench.batch(probed=True)
    after = [bench.batch(probed=True, wetter=0.4)[0] for _ in range(8)]
    assert before - after[-1] > 0.6 * 6.0
    assert before - after[0] < before - after[-1] + 1.0


def test_a_noisy_probe_is_not_followed() -> None:
    """Noise of the probe alone (0.15 %, 2.2 kg) reaches the water much weakened."""
    bench = Bench(probe_sd=0.15)
    bench.hours(30)
    water = [bench.batch(probed=True)[0] for _ in range(100)]
    assert np.std(np.diff(water)) < 0.35 * 2.2 * np.sqrt(2.0)


def test_slope_is_learned_from_what_water_did() -> None:
    """Water set off by hand up and down: compactability and moisture show the slope of this sand."""
    bench, kg = Bench(slope=21.0), 30.0
    recommender = bench.recommender
    feeders = [(f, KG[f.id]) for f in bench.model.feeders if f.id in KG]
    for hour in range(120):
        given = kg + (3.0 if hour % 2 else -3.0)
        balance = water_balance(
            bench.model.muller, 1500.0, 2.1, 38.0, feeders, discharge_offset=0.0, water_temperature=15.0
        )
        at = MONDAY_US + hour * HOUR_US
        moisture = balance.moisture(given)
        noise = bench.random.standard_normal(2) * (1.2, 0.06)
        recommender.note(BatchMade(at, KG | {"water": given}, None, 2.1, 38.0))
        value = 42.0 + 21.0 * (moisture - 3.6)
        recommender.note(ResultKnown("compactability", value + noise[0], at, at + 1))
        recommender.note(ResultKnown("moisture", moisture + noise[1], at, at + 1))
    slope = recommender.learned()["slope"]
    assert slope.sd < 2.0
    assert abs(slope.value - 21.0) < 3.0 * slope.sd


def test_more_clay_asks_for_more_water() -> None:
    """Additions of a batch raise its demand at once: 5 kg more bentonite ask for about 1 kg more water."""
    bench = Bench()
    bench.hours(6)
    plain = bench.recommender.water(bench.at, 2.1, 38.0, KG)
    more = bench.recommender.water(bench.at, 2.1, 38.0, KG | {"bentonite": 16.0})
    # 0.3 % moisture per 1 % clay on 1540 kg, and 5 kg more to moisten; half a kg comes with the bentonite
    by_hand = 15.4 * 0.3 * 5.0 * 0.9 / 15.4 / 1.0 * (100.0 - 8.0) / 100.0 + 5.0 * 0.039 - 0.5
    assert more - plain == pytest.approx(by_hand, abs=0.3)


def test_a_probe_reading_between_batches_serves_the_next_ones() -> None:
    """A reading shortly before counts as the batch's own; one of hours ago does not."""
    bench = Bench()
    bench.hours(6)
    plain = bench.recommender.water(bench.at, None, 38.0, KG)
    own = bench.recommender.water(bench.at, 2.6, 38.0, KG)
    bench.recommender.note(ProbeReading(bench.at - BATCH_US, 2.6, None))
    assert bench.recommender.water(bench.at, None, 38.0, KG) == own < plain
    bench.recommender.note(ProbeReading(bench.at - 2 * HOUR_US, 2.6, None))
    assert bench.recommender.water(bench.at, None, 38.0, KG) == plain


def test_first_batches_after_a_stop_are_a_stratum() -> None:
    """Sand that dries in stops, tested after each: the first batch after the next stop gets more water."""
    bench = Bench()
    asked = []
    for _ in range(12):
        bench.hours(3)
        bench.at += 10 * HOUR_US
        plain = bench.recommender.water(bench.at - 10 * HOUR_US, 2.1, 38.0, KG)
        bench.demand = 4.05
        asked.append(bench.recommender.water(bench.at, 2.1, 38.0, KG) - plain)
        for _ in range(3):
            bench.batch(probed=True, test=True)
        bench.demand = 3.9
    assert np.mean(asked[-3:]) > asked[0] + 0.5


def test_water_keeps_to_its_feeder() -> None:
    """Limits, greatest step and resolution hold whatever the filter asks for."""
    model = plant_model(Luck())
    recommender = Recommender(model)
    recommender.note(BatchMade(MONDAY_US, KG | {"water": 20.0}))
    asked = recommender.water(MONDAY_US + BATCH_US, 0.2, 38.0, KG)
    assert asked <= 28.0 and asked * 2 == round(asked * 2)
    assert recommender.water(MONDAY_US + BATCH_US, 9.0, 38.0, KG) >= 12.0
