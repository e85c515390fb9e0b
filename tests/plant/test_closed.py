"""The closed-loop plant: nothing is fixed, nothing is lost, nobody's luck depends on what is decided."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from sandlab.plant.closed import FEEDERS, SCENARIOS, Case, Line, draw_case
from sandlab.plant.closed.luck import Luck, draw_luck, stream
from sandlab.plant.closed.ranges import Plant, draw, table
from sandlab.plant.closed.rounds import scale_of, scatter_of
from sandlab.plant.closed.sand import compactability, heine, passage
from sandlab.plant.closed.upsets import WHAT, acting
from sandlab.plant.parameters import CLAY, DRY, GRAIN, INERT_FINES, NEW_CLAY, WARMTH

SEEDS = range(40, 60)


def drawn(seed: int) -> Plant:
    """The plant of a seed."""
    return draw(stream(seed, "plant"))


@pytest.fixture(scope="module")
def case() -> Case:
    """A fortnight in which everything goes wrong."""
    return draw_case(41, "all", 14)


def test_every_parameter_varies_over_seeds_and_stays_in_its_range() -> None:
    """A plant with a fixed figure or a noise of zero would be no examiner."""
    plants = [drawn(seed) for seed in range(100)]
    for name, low, high, _, basis in table():
        values = [getattr(plant, name) for plant in plants]
        assert len(set(values)) == len(plants), name
        assert low <= min(values) <= max(values) <= high, name
        assert max(values) - min(values) > 0.85 * (high - low), name
        assert basis in ("published", "practice", "own")
        if name.endswith(("_sd", "_scatter", "_drift", "_spread")):
            assert low > 0.0, name
    assert {name for name, *_ in table()} == {item.name for item in fields(Plant)}


def test_published_ranges_are_the_published_ones() -> None:
    """Foundry lexicon, "Wear factor": bentonite 0.25-0.40, carbon carrier 0.7-1.5; muller work 1-3 kWh/t."""
    ranges = {name: (low, high) for name, low, high, _, _ in table()}
    assert ranges["clay_wear"] == (0.25, 0.40)
    assert ranges["carbon_wear"] == (0.7, 1.5)
    assert ranges["work_kwh_per_t"] == (1.0, 3.0)
    assert ranges["slope"] == (20.0, 35.0)


@pytest.mark.parametrize(("wanted", "printed"), [(35.0, 3.690), (40.0, 3.793), (45.0, 3.903), (50.0, 4.102)])
def test_published_level_of_temper_water(wanted: float, printed: float) -> None:
    """ICRI report 610, equilibrium moisture at 8 % methylene-blue clay (derived from its equations)."""
    assert heine(8.0, wanted) == pytest.approx(printed, abs=0.0005)


def test_every_luck_varies() -> None:
    """No series of the luck stands still, and none is the same for two seeds."""
    plant = drawn(40)
    one, other = (draw_luck(plant, seed, "undisturbed", 14) for seed in (40, 43))
    count = min(one.batches, other.batches)
    for item in fields(Luck):
        values = getattr(one, item.name)
        if isinstance(values, np.ndarray) and item.name not in ("at_us", "gap_h", "day", "run", "slow"):
            assert np.std(values) > 0.0, item.name
            assert (values[:count] != getattr(other, item.name)[:count]).any(), item.name
    assert all(scatter > 0.0 for scatter in scatter_of(plant).values())


def test_nothing_is_lost(case: Case) -> None:
    """Dry sand and water close to 1e-9 over two weeks of wild doses, the weekend's standing included."""
    random, line = np.random.default_rng(3), Line(case, 3)
    recipe = np.array([case.papers.recipe[name] for name in FEEDERS])[:, None]
    dry, water = line.stock()
    for _ in range(case.luck.batches):
        line.charge()
        line.make(recipe * random.uniform(0.0, 2.0, (4, 3)))
        line.results()
    after, wet = line.stock()
    np.testing.assert_allclose(after, dry + line.ledger.dry_in - line.ledger.dry_out, rtol=1e-9)
    np.testing.assert_allclose(wet, water + line.ledger.water_in - line.ledger.water_out, rtol=1e-9)
    assert (line.ledger.dry_out > 0.1 * dry).all()
    assert line.hopper.min() >= 0.0


def test_one_pass_closes_and_burns_as_published() -> None:
    """Foundry lexicon, "Wear factor": 1000 kg at 8 % clay, sand:metal 3, factor 0.4 lose 10.67 kg of clay."""
    bare = replace(
        drawn(40),
        clay_wear=0.4,
        spill=0.0,
        bound_water=0.0,
        carry_out=0.0,
        dust_grain=0.0,
        dust_clay=0.0,
        dust_combustibles=0.0,
        dust_fines=0.0,
    )
    sand = np.zeros(7)
    sand[GRAIN], sand[NEW_CLAY], sand[CLAY] = 920.0, 30.0, 50.0
    after = passage(bare, 3.0, 0.0, 1.0) @ sand
    assert 80.0 - after[NEW_CLAY] - after[CLAY] == pytest.approx(10.67, abs=0.005)
    assert after.sum() == pytest.approx(1000.0)
    assert after[INERT_FINES] == pytest.approx(bare.burnt_to_fines * 10.667, abs=0.001)
    cored = passage(bare, 3.0, 0.3, 1.0) @ sand
    assert cored.sum() - after.sum() == pytest.approx(1000.0 * bare.core_retention * 0.1)


def test_settled_on_target_with_an_ordinary_recipe() -> None:
    """Every plant starts on target. Trade notes: 0.8-1.0 % bentonite, 0.4-0.5 % coal dust, to 3 % water."""
    for seed in SEEDS:
        one = draw_case(seed, "undisturbed", 2)
        plant, made = one.plant, one.settled.prepared[:, 0]
        dry = made[DRY].sum()
        clay = 100.0 * (made[CLAY] + made[NEW_CLAY]) / dry * scale_of(plant, "active_clay")[0]
        assert clay == pytest.approx(plant.clay_target, abs=0.005)
        compact = compactability(plant, one.settled.prepared, one.settled.demand)[0]
        assert compact + plant.compactability_offset == pytest.approx(plant.compactability_target, abs=0.1)
        assert 15.0 < made[WARMTH] / dry < 50.0
        assert 0.3 < 100.0 * one.settled.bentonite / plant.charge_kg < 1.3
        assert 0.2 < 100.0 * one.settled.carbon / plant.charge_kg < 1.8
        assert 0.8 < 100.0 * one.settled.water / plant.charge_kg < 4.0
        assert 1.5 < one.papers.usual["inert_fines"] < 12.0


def test_luck_does_not_depend_on_scenario_or_decisions() -> None:
    """The same seed meets the same tests and scatter; a scenario adds its disturbance and nothing else."""
    quiet, loud = (draw_case(44, name, 14) for name in ("undisturbed", "all"))
    assert quiet.plant == loud.plant
    assert quiet.tests == loud.tests
    np.testing.assert_array_equal(quiet.luck.weighing, loud.luck.weighing)
    assert (quiet.luck.bentonite != loud.luck.bentonite).any()


@pytest.mark.parametrize("name", [name for name in SCENARIOS if name not in ("undisturbed", "all")])
def test_each_scenario_disturbs(name: str) -> None:
    """Within its printed size, and only for its time."""
    effect = acting(name, stream(45, "upsets"), np.arange(0.0, 64.0, 0.05))
    for what in WHAT:
        sizes = [upset for upset in SCENARIOS[name] if upset.what == what]
        assert bool(sizes) == bool(effect[what].any())
        if sizes:
            assert min(0.0, *(one.low for one in sizes)) <= effect[what].min()
            assert effect[what].max() <= max(0.0, *(one.high for one in sizes))
            assert (effect[what][:400] == 0.0).all()


def test_tests_are_noisy_missed_and_late() -> None:
    """Results scatter with the laboratory's own sd, some are missed, none is known before it is taken."""
    case = draw_case(41, "all", 90)
    tests = [test for tests in case.tests.values() for test in tests]
    hours = case.luck.batches / 20.0
    hourly = [test for test in tests if test.property == "compactability"]
    assert 0.80 * hours < len(hourly) < 0.99 * hours
    scatter = np.array([test.offset for test in hourly]) - case.plant.compactability_offset
    middle = np.median(np.abs(scatter)) / 0.6745
    assert middle == pytest.approx(case.plant.compactability_sd, rel=0.06)
    assert all(test.known_us > test.taken_us for test in tests)
    delays = [(test.known_us - test.taken_us) / 60e6 for test in tests if test.property == "active_clay"]
    assert 40.0 < np.median(delays) < 90.0
    assert {test.gain for test in tests if test.property == "active_clay"} == {case.plant.clay_calibration}


def test_a_parcel_comes_back_after_line_and_plug(case: Case) -> None:
    """Clay put into one batch is unseen in the return sand until line and plug have moved on, then fades."""
    line = Line(case, 2)
    recipe = np.array([case.papers.recipe[name] for name in FEEDERS])[:, None]
    wait = line.delay + len(line.plug)
    apart = []
    for number in range(3 * wait):
        settings = np.repeat(recipe, 2, axis=1)
        if number == 0:
            settings[1, 1] *= 2.0
        line.charge()
        line.make(settings)
        apart.append(float(np.diff(line.true["returned_clay"][:, number])[0]))
    assert max(map(abs, apart[: wait - 1])) < 1e-12
    assert max(apart[wait - 1 : wait + 3]) > 0.0
    assert 0.0 < apart[-1] < max(apart)
