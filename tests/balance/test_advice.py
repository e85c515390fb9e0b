"""What a recommendation says: it follows tests with measure, explains itself, holds on weak evidence."""

from __future__ import annotations

from dataclasses import replace
from time import perf_counter

import pytest

from sandlab.balance import CAUTION, Advice, DemandFit, Reading, Target, TemperTest, advise
from sandlab.balance.steady import steady_makeup
from tests.balance.plants import (
    BENTONITE,
    COAL,
    LOOP,
    NEW_SAND,
    PREMIX,
    WATER,
    addition,
    feeder,
    kg,
    plant,
    readings,
    temper,
    with_tests,
)


def parts(advice: Advice, name: str) -> dict[str, float]:
    """The parts of one addition by name."""
    return {part.name: part.kg for part in addition(advice, name).parts}


def test_sand_on_target_gets_the_steady_makeup() -> None:
    """With every test on target nothing is corrected: what burns and what is diluted is made up for."""
    inputs = replace(plant(), feeders=tuple(replace(f, resolution_kg=1e-6) for f in plant().feeders))
    inputs = replace(inputs, usual={})
    steady = steady_makeup(inputs.targets[1:], (BENTONITE, COAL, NEW_SAND), {"new_sand": 20.0}, LOOP, 1470.0)
    inputs = replace(inputs, usual={name: steady.prepared[name] for name in ("fixed_carbon", "inert_fines")})
    advice = advise(inputs)
    assert kg(advice, "bentonite") == pytest.approx(steady.kg["bentonite"], abs=1e-4)
    assert kg(advice, "coal") == pytest.approx(steady.kg["coal"], abs=1e-4)
    assert parts(advice, "bentonite")["correction"] == pytest.approx(0.0, abs=1e-9)
    assert not advice.misses
    assert not advice.hold


def test_last_test_moves_an_eighth_and_no_more() -> None:
    """One clay test 1 % low counts a quarter in the filter, of which one batch corrects half."""
    base = advise(plant())
    low = advise(with_tests(plant(), {"active_clay": (*readings(8.0, 8.0), Reading(7.0, 30.0))}))
    lacking = (1470.0 * 0.01 * (1 - 0.95 * 0.33 / 6)) / (
        0.9 * 0.92
    )  # kg as weighed for 1 % less in prepared sand
    moved = addition(low, "bentonite").ideal_kg - addition(base, "bentonite").ideal_kg
    assert moved == pytest.approx(0.5 * 0.25 * lacking, rel=0.02)


def test_lower_clay_asks_for_more_bentonite() -> None:
    """The recommendation falls monotonically with the clay that was tested."""
    asked = [
        kg(advise(with_tests(plant(), {"active_clay": readings(*[clay] * 5)})), "bentonite")
        for clay in (6.5, 7.0, 7.5, 8.0, 8.5, 9.0)
    ]
    assert asked == sorted(asked, reverse=True)
    assert len(set(asked)) == len(asked)


def test_hotter_or_drier_return_sand_asks_for_more_water() -> None:
    """Heat evaporates water and dry sand brings less: both are fed forward."""
    before = tuple(
        replace(test, return_moisture=2.0, return_temperature=38.0) for test in temper(*[42.0] * 6)
    )
    base = replace(plant(), temper_tests=before)

    def water(name: str, *values: float, every_min: float = 60.0) -> float:
        return kg(advise(with_tests(base, {name: readings(*values, every_min=every_min)})), "water")

    hot = [water("return_temperature", value) for value in (25.0, 35.0, 45.0, 55.0)]
    assert hot == sorted(hot) and len(set(hot)) == 4
    wet = [water("return_moisture", value) for value in (1.0, 1.5, 2.0)]
    assert wet == sorted(wet, reverse=True) and wet[0] - wet[2] == pytest.approx(15.0, abs=1.0)


def test_return_sand_of_tested_batches_is_the_test_nearest_in_time() -> None:
    """A hot belt reading after cooler ones is fed forward, though the batches carry no reading themselves."""
    cool = kg(
        advise(with_tests(plant(), {"return_temperature": readings(38.0, 38.0, every_min=200.0)})), "water"
    )
    hot = kg(
        advise(with_tests(plant(), {"return_temperature": readings(38.0, 55.0, every_min=200.0)})), "water"
    )
    assert hot > cool


def test_low_compactability_asks_for_more_water_through_slope_and_weight() -> None:
    """A batch 8 points too dry needs 8/27 % more moisture; one such test moves the aim by a quarter of it."""
    base, low = advise(plant()), advise(replace(plant(), temper_tests=temper(*[42.0] * 5, 34.0)))
    moved = addition(low, "water").ideal_kg - addition(base, "water").ideal_kg
    assert moved == pytest.approx(0.25 * 8 / 27 / 100 * 1490 / (1 - 0.033) ** 2, rel=0.06)
    assert low.expected.compactability == pytest.approx(42.0, abs=1.0)


def test_more_clay_asks_for_more_water_in_the_same_batch() -> None:
    """A bentonite addition that goes up is fed forward to the water."""
    dry = with_tests(plant(), {"active_clay": readings(*[7.0] * 8)})
    limited = replace(dry, feeders=(replace(dry.feeders[0], greatest_step_kg=0.5), *dry.feeders[1:]))
    free, held = advise(dry), advise(limited)
    assert kg(free, "bentonite") > kg(held, "bentonite") + 5
    assert parts(free, "water")["level"] > parts(held, "water")["level"] + 2


def test_asking_twice_does_not_correct_twice() -> None:
    """With the recommended water set and no new test the recommendation stays where it is."""
    inputs = replace(plant(), temper_tests=temper(*[36.0] * 6))
    first = kg(advise(inputs), "water")
    again = replace(inputs, feeders=(*inputs.feeders[:-1], feeder(WATER, first)))
    assert kg(advise(again), "water") == first


def test_a_premix_with_two_targets_says_which_is_missed() -> None:
    """One silo cannot serve clay and volatiles at once: the miss and its cause are named."""
    inputs = replace(plant(), feeders=(feeder(PREMIX, 20.0), feeder(NEW_SAND, 20.0), feeder(WATER, 30.0)))
    advice = advise(inputs)
    missed = {miss.property: miss for miss in advice.misses}
    assert set(missed) == {"active_clay", "volatiles"}
    assert all("premix carries several components in one fixed ratio" in one.because for one in advice.misses)
    clay, volatiles = missed["active_clay"], missed["volatiles"]
    assert (clay.expected - clay.target) * (volatiles.expected - volatiles.target) < 0


def test_a_limit_that_binds_is_named_with_the_best_that_can_be_done() -> None:
    """Out of reach: the feeder at its maximum, the shortfall, and what was wanted."""
    inputs = with_tests(plant(), {"active_clay": readings(*[6.5] * 8)})
    short = replace(inputs.feeders[0], maximum_kg=15.0)
    advice = advise(replace(inputs, feeders=(short, *inputs.feeders[1:])))
    one = addition(advice, "bentonite")
    assert one.kg == 15.0 and one.binds == ("maximum 15 kg",) and one.ideal_kg > 22.0
    causes = {miss.property: miss.because for miss in advice.misses}
    assert causes["active_clay"] == "bentonite at its maximum 15 kg"
    assert causes["volatiles"] == "coal makes up for the limits of bentonite"
    assert advice.misses[0].expected < 8.0


def test_a_greatest_step_is_named() -> None:
    """The step from what is set now binds before the maximum does."""
    stepped = replace(plant().feeders[-1], greatest_step_kg=1.0, present_kg=10.0)
    advice = advise(replace(plant(), feeders=(*plant().feeders[:-1], stepped)))
    assert addition(advice, "water").binds == ("greatest step 1 kg from 10 kg",)
    assert advice.misses[-1].property == "compactability"
    assert "water at its greatest step 1 kg from 10 kg" in advice.misses[-1].because


def test_a_present_setting_outside_the_limits_is_brought_back_and_said() -> None:
    """Minimum and maximum win over the greatest step."""
    odd = replace(plant().feeders[0], maximum_kg=8.0, present_kg=20.0, greatest_step_kg=1.0)
    one = addition(advise(replace(plant(), feeders=(odd, *plant().feeders[1:]))), "bentonite")
    assert one.kg == 8.0
    assert "present 20 kg outside 0 to 8 kg" in one.binds


def test_cost_decides_between_equal_clays_and_nothing_else() -> None:
    """Of two bentonites that give the same batch the cheaper is fed; with one, cost changes nothing."""
    second = replace(BENTONITE, id="second", cost_per_t=200.0)
    dear = replace(plant(), feeders=(plant().feeders[0], feeder(second, 0.0), *plant().feeders[1:]))
    both = advise(dear)
    assert kg(both, "bentonite") == 0.0
    assert kg(both, "second") == pytest.approx(kg(advise(plant()), "bentonite"), abs=0.5)
    assert any("cheapest" in text for text in addition(both, "second").binds)
    costly = replace(plant().feeders[0], material=replace(BENTONITE, cost_per_t=9000.0))
    only = advise(replace(plant(), feeders=(costly, *plant().feeders[1:])))
    assert kg(only, "bentonite") == kg(advise(plant()), "bentonite")


@pytest.mark.parametrize(
    ("tests", "cause"),
    [
        ((), "no test of active clay"),
        ((Reading(8.0, 3 * 1440.0),), "the last active clay test is 3 days old"),
        (
            (Reading(8.0, 300.0), Reading(5.0, 20.0, doubtful=True)),
            "the last active clay result, 5, is doubtful",
        ),
    ],
)
def test_weak_evidence_holds_what_it_steers(tests: tuple[Reading, ...], cause: str) -> None:
    """Missing, old or doubtful clay tests hold the bentonite where it is; coal and water go on."""
    advice = advise(with_tests(plant(), {"active_clay": tests}))
    one = addition(advice, "bentonite")
    assert (
        advice.hold and advice.hold_reason == f"Hold bentonite, because {cause}: test again before changing."
    )
    assert (
        one.held and one.kg == 12.0 and one.change_kg == 0.0 and parts(advice, "bentonite") == {"held": 12.0}
    )
    assert not addition(advice, "coal").held and not addition(advice, "water").held
    assert not [miss for miss in advice.misses if miss.property == "active_clay"]


def test_water_is_held_without_recent_compactability() -> None:
    """No hourly test for a shift: the water stays as it is and the reason says so."""
    old = tuple(replace(test, age_min=test.age_min + 480.0) for test in temper(42.0, 41.0))
    advice = advise(replace(plant(), temper_tests=old))
    assert advice.hold and "the last compactability test is 9 h old" in advice.hold_reason
    assert addition(advice, "water").held and kg(advice, "water") == 30.0


def test_compactability_alone_holds_the_water() -> None:
    """Without the moisture or the water of its batch a compactability says nothing about the setting."""
    advice = advise(replace(plant(), temper_tests=temper(42.0, 41.0, water_kg=None, moisture=None)))
    assert "has the moisture or the water of its batch" in advice.hold_reason


def test_tests_without_logged_water_are_used_with_their_moisture() -> None:
    """Where the water of a batch was not logged its tested moisture stands in."""
    advice = advise(replace(plant(), temper_tests=temper(*[38.0] * 8, water_kg=None, moisture=3.2)))
    aim = 3.2 + 4 / 27
    assert not addition(advice, "water").held
    assert advice.expected.moisture == pytest.approx(0.9 * aim + 0.1 * 3.8, abs=0.03)


def test_missing_probes_fall_back_to_usual_values_with_a_flag() -> None:
    """No return-sand test: the usual moisture and temperature are used and named."""
    bare = replace(plant(), tests={k: v for k, v in plant().tests.items() if not k.startswith("return")})
    flags = " ".join(advise(bare).flags)
    assert "no recent return moisture: 2.2 % from the usual value was used" in flags
    assert "no recent return temperature: 38.0 C from the usual value was used" in flags


def test_doubtful_sand_is_flagged_not_refused() -> None:
    """Outside the published clay range, hot return sand, too many fines: said, and still answered."""
    inputs = with_tests(
        plant(), {"return_temperature": readings(75.0), "inert_fines": readings(9.0, 9.0, 9.0)}
    )
    lean = (
        inputs.targets[0],
        Target("active_clay", 5.0, 0.6),
        *inputs.targets[2:],
        Target("inert_fines", 3.0, 1.0),
    )
    flags = " ".join(advise(replace(inputs, targets=lean)).flags)
    assert "outside 7 to 11 %" in flags
    assert "cannot be mulled to constant properties" in flags
    assert "not corrected in one batch" in flags


def test_water_that_was_not_what_is_set_is_said() -> None:
    """A dry batch that had less water than is set now explains why the setting stays."""
    advice = advise(replace(plant(), temper_tests=temper(*[37.0] * 6, water_kg=25.0)))
    assert "the last tested batch had 25.0 kg of water, set now are 30 kg" in advice.flags
    assert not [flag for flag in advise(plant()).flags if "last tested batch" in flag]


def test_burning_more_than_half_is_flagged() -> None:
    """A wear factor that burns most of a component in one pass is probably wrong."""
    advice = advise(replace(plant(), loop=replace(LOOP, carbon_wear_factor=5.0)))
    assert any("more than half" in flag for flag in advice.flags)


def test_a_measured_discharge_temperature_moves_tested_and_coming_batches_alike() -> None:
    """A hotter discharge than estimated means less evaporation in all of them: the water hardly moves."""
    estimated = addition(advise(plant()), "water")
    measured = advise(with_tests(plant(), {"sand_temperature": readings(36.0)}))
    assert measured.expected.discharge_temperature == pytest.approx(36.0)
    assert measured.expected.evaporated_kg < advise(plant()).expected.evaporated_kg - 1.5
    assert addition(measured, "water").ideal_kg == pytest.approx(estimated.ideal_kg, abs=0.7)


def test_the_plants_own_fit_replaces_the_published_level() -> None:
    """With fitted demand the level comes from it; without tests of the past it is the aim."""
    fit = DemandFit(constant=1.0, clay=0.3, compactability=42.0)
    advice = advise(replace(plant(), demand=fit, temper_tests=(TemperTest(30.0, 42.0, 3.4),)))
    assert advice.expected.moisture == pytest.approx(3.4, abs=0.03)


def test_reason_is_one_sentence_and_the_caution_is_carried() -> None:
    """The reason names tests, target and change; every recommendation says that it is advice."""
    advice = advise(with_tests(plant(), {"active_clay": readings(*[7.4] * 4)}))
    assert advice.reason.count(".  ") == 0 and advice.reason.endswith(".")
    assert "active clay 7.6 against 8 %: bentonite up" in advice.reason
    assert advice.caution == CAUTION and "site's rules" in CAUTION
    ages = {one.property: (one.age_min, one.count) for one in advice.rests_on}
    assert ages["active_clay"] == (60.0, 4) and ages["compactability"] == (60.0, 6)
    assert any("new lot of bentonite, coal" in text for text in advice.void_if)


def test_recommendation_is_quick() -> None:
    """A recommendation takes a few milliseconds (ten here, for slow machines)."""
    advise(plant())
    start = perf_counter()
    for _ in range(20):
        advise(plant())
    assert (perf_counter() - start) / 20 < 0.010
