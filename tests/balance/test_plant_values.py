"""Identification, forecast, what-if, settling, new sand and books on a small foundry."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from sandlab.balance.batch import mix
from sandlab.balance.books import books
from sandlab.balance.identify import Identification, identify
from sandlab.balance.log import Log
from sandlab.balance.loop import cycle
from sandlab.balance.recommender import Recommender
from sandlab.balance.steady import steady_state
from sandlab.balance.stream import BatchMade
from sandlab.errors import InputError
from tests.balance.luck import Luck, lucky
from tests.balance.small_plant import BATCH_US, Course, SmallPlant, plant_model

HOURS = 168


@cache
def closed(seed: int) -> tuple[Recommender, Course]:
    """A week of a foundry that follows the recommendation."""
    luck = replace(lucky(seed, disturbed=False), late=0.0)
    recommender = Recommender(plant_model(luck))
    return recommender, SmallPlant(seed, luck, hours=HOURS).run(recommender)


@cache
def fitted(seed: int) -> Identification:
    """Plant values of that week."""
    recommender, course = closed(seed)
    return identify(recommender.log, course.at_us[0], course.at_us[-1])


def test_identified_values_are_within_their_limits() -> None:
    """Bond and carbon wear within the 95 % limits, widened by 8 % for what a feeder may hide of them."""
    for seed in (401,):
        luck = lucky(seed, disturbed=False)
        found = {one.name: one for one in fitted(seed).values}
        for name, truth in (("bond", luck.bond), ("carbon_wear_factor", luck.carbon_wear)):
            one = found[name]
            assert one.identified
            assert one.low / 1.08 < truth < one.high * 1.08
        assert (
            found["clay_wear_factor"].low < found["clay_wear_factor"].value < found["clay_wear_factor"].high
        )


def test_what_the_window_cannot_tell_is_said() -> None:
    """A short window without tests of loss or wash cannot tell the sources apart from nothing."""
    recommender, course = closed(401)
    log = Log(recommender.plant)
    for event in course.events:
        if isinstance(event, BatchMade):
            log.made(event)
        elif getattr(event, "property", "") == "active_clay":
            log.tested(event)
    report = identify(log, course.at_us[0], course.at_us[2400])
    names = {one.name for one in report.values if not one.identified}
    assert {"carbon_wear_factor", "core_retention", "carbon_source", "fines_source", "bond"} <= names
    assert all(any(name in remark for remark in report.remarks) for name in names)


def test_too_few_results_are_refused() -> None:
    """A window without results is no basis."""
    recommender, course = closed(401)
    with pytest.raises(InputError, match="longer window"):
        identify(recommender.log, course.at_us[0], course.at_us[20])


def test_forecast_widens_and_starts_at_the_estimate() -> None:
    """Bands begin with the next batch and grow; more bentonite lifts clay and costs more."""
    recommender, course = closed(401)
    at = course.at_us[-1] + BATCH_US
    plain = recommender.forecast(at, 48.0)
    now = recommender.prepared(at)["active_clay"]
    assert plain.mean[0, 0] == pytest.approx(now.value, abs=1e-9)
    assert plain.sd[-1, 0] > plain.sd[0, 0]
    more = recommender.forecast(at, 48.0, {"bentonite": 20.0})
    assert more.mean[-1, 0] > plain.mean[-1, 0] + 0.5
    assert more.cost_per_t_sand > plain.cost_per_t_sand
    assert plain.cost_per_t_metal / plain.cost_per_t_sand == pytest.approx(
        recommender.log.way_at(at).sand_to_metal
    )


def test_settling_is_the_steady_state_of_the_balance() -> None:
    """Without anything learned, constant settings lead where the repeated batch balance leads."""
    model = plant_model(Luck())
    recommender = Recommender(model)
    kg = {"bentonite": 12.0, "coal": 13.0, "new_sand": 30.0}
    found = recommender.settling(0, kg)
    materials = tuple(f.material for f in model.feeders if f.id in kg)
    expected = steady_state(kg, materials, model.loop, recommender.log.usual_dry_kg, {}).prepared
    for name, value in expected.items():
        assert found.prepared[name] == pytest.approx(value, abs=2e-4)
    assert found.hours["inert_fines"] > 20.0


def test_time_to_reach_is_the_step_response() -> None:
    """A tenth is left after ln(10) time constants -1/ln F of the well-mixed loop, and up to three cycles:
    the first sand comes back after one of them, spread over another.

    Derived: geometric series of a loop that loses a constant share in each cycle.
    """
    recommender = Recommender(plant_model(Luck()))
    model, log = recommender.plant, recommender.log
    kg = {"bentonite": 16.0, "coal": 12.0, "new_sand": 20.0}
    found = recommender.settling(0, kg)
    hours = found.hours["active_clay"]
    dry, fed = log.usual_dry_kg, np.array([f.material.dry_share * kg.get(f.id, 0.0) for f in log.feeders])
    assays = np.array([f.material.assay_vector for f in log.feeders])

    def around(clay: float) -> float:
        returned = np.array([clay, *list(found.prepared.values())[1:]])
        made = mix(dry, returned, fed, assays).composition
        return float(cycle(made, model.loop).composition[0])

    kept = (around(11.01) - around(10.99)) / 0.02
    cycle_h = 1000.0 * model.stock_t / dry / model.batches_per_h
    cycles = np.log(0.1) / np.log(kept)
    assert cycles * cycle_h - cycle_h < hours < cycles * cycle_h + 3.0 * cycle_h


def test_new_sand_holds_the_fines() -> None:
    """The new sand proposed, clay and carbon made up, settles at the fines asked for; else what binds."""
    recommender = Recommender(plant_model(Luck()))
    found = recommender.new_sand_for(0, 3.8)
    assert found.binds == "" and found.fines == pytest.approx(3.8, abs=1e-3)
    assert 0.0 < found.kg < 80.0
    assert recommender.new_sand_for(0, 3.6).kg > found.kg
    least, most = recommender.new_sand_for(0, 30.0), recommender.new_sand_for(0, 0.1)
    assert "minimum" in least.binds and least.kg == 0.0
    assert "maximum" in most.binds and most.fines > 0.1


def test_books_close_within_their_uncertainty() -> None:
    """A plant whose accepted wear factors are right: no finding; the sums are those of the log."""
    luck = replace(lucky(403, disturbed=False), feed_sd=0.002, missed=0.0)
    model = plant_model(luck)
    true_loop = replace(
        model.loop,
        clay_wear_factor=luck.clay_wear,
        carbon_wear_factor=luck.carbon_wear,
        core_retention=luck.retention,
    )
    recommender = Recommender(replace(model, loop=true_loop))
    course = SmallPlant(403, luck, hours=HOURS).run(recommender)
    period = books(recommender.log, course.at_us[0], course.at_us[-1])
    assert period.findings == ()
    fed = sum(kg["bentonite"] for kg in course.kg)
    clay = period.accounts["active_clay"]
    assert clay.brought["bentonite"] == pytest.approx(0.9 * fed, rel=1e-9)
    assert clay.closing == pytest.approx(
        0.9 * fed - clay.burned - clay.dust - clay.left - clay.gained, abs=1e-9 * fed
    )
    assert period.per_t["bentonite"] == pytest.approx(fed / period.metal_t, rel=1e-9)


def test_books_point_to_a_feeder_that_brings_too_little() -> None:
    """Bentonite logged half as much again as came: kg are missing, and the feeder is named."""
    luck = replace(lucky(403, disturbed=False), feed_sd=0.002)
    recommender, course = closed(403)
    true_loop = replace(
        recommender.plant.loop, clay_wear_factor=luck.clay_wear, carbon_wear_factor=luck.carbon_wear
    )
    log = Log(replace(recommender.plant, loop=true_loop))
    for event in course.events:
        if isinstance(event, BatchMade):
            more = dict(event.added_kg) | {"bentonite": 1.5 * event.added_kg["bentonite"]}
            log.made(replace(event, added_kg=more))
        elif hasattr(event, "property"):
            log.tested(event)
    period = books(log, course.at_us[0], course.at_us[-1])
    finding = next(text for text in period.findings if text.startswith("active clay"))
    assert "missing" in finding and "bentonite may feed less" in finding


def test_books_need_batches_and_tests() -> None:
    """No batches is refused; too few tests is said."""
    model = plant_model(Luck())
    with pytest.raises(InputError, match="another period"):
        books(Log(model), 0, 1)
    log = Log(model)
    for number in range(5):
        log.made(BatchMade(number * BATCH_US, {"bentonite": 11.0}))
    period = books(log, 0, 10 * BATCH_US)
    assert period.accounts == {}
    names = "active clay, volatiles, fixed carbon and inert fines"
    assert period.findings == (f"{names}: too few tests at the ends of the period to close",)
