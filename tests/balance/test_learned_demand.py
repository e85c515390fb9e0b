"""Temperature and moisture demand ahead, and the water's plant values from samples."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import sqrt

import numpy as np
import pytest

from sandlab.balance.identify_water import NAMES, WaterSample, demand_of, fit_water, mean_sand
from sandlab.balance.log import Log, Way
from sandlab.balance.recommender import Recommender
from sandlab.balance.stream import HOUR_US, BatchMade, ResultKnown
from sandlab.balance.temper import fitted_demand
from sandlab.balance.warmth import job_temperature, temperatures, warmth
from tests.balance.luck import Luck, lucky
from tests.balance.small_plant import BATCH_US, SmallPlant, plant_model


def warm_log(values: list[float]) -> Log:
    """A log with a sand temperature every hour."""
    log = Log(plant_model(Luck()))
    for hour, value in enumerate(values):
        log.tested(ResultKnown("sand_temperature", value, hour * HOUR_US, hour * HOUR_US))
    return log


def test_twice_the_metal_in_the_sand_gives_twice_the_excess() -> None:
    """Energy: heat per kg of sand goes with metal per sand, and so does the excess over the air.

    Derived, conservation of energy.
    """
    assert job_temperature(38.0, 20.0, 6.0, 3.0) - 20.0 == pytest.approx(2.0 * 18.0)
    assert job_temperature(38.0, 20.0, 6.0, 6.0) == pytest.approx(38.0)


def test_temperature_starts_where_it_stands_and_forgets() -> None:
    """From the last tests to the usual level of the job; the band ends at the spread of the tests."""
    values = [34.0, 36.0] * 12 + [41.0, 41.0, 41.0]
    log = warm_log(values)
    known = warmth(log, 26 * HOUR_US)
    mean, sd = temperatures(known, [0.0, 4.0, 200.0], known.sand_to_metal)
    assert mean[0] == pytest.approx(41.0)
    assert mean[0] > mean[1] > mean[2]
    assert mean[2] == pytest.approx(np.mean(values), abs=1e-3)
    assert sd[2] == pytest.approx(np.std(values, ddof=1), abs=1e-3)
    assert sd[0] < sd[1] < sd[2]


def test_a_job_with_more_metal_warms_the_sand_as_it_goes_round() -> None:
    """After one cycle 1 - 1/e of the way, in the end all of it: a stirred tank's step response.

    Derived, step response of a first-order store.
    """
    known = warmth(warm_log([36.0] * 30), 29 * HOUR_US)
    times = np.arange(0.0, 20.0 * known.cycle_h, known.cycle_h / 50.0)
    mean, _ = temperatures(known, times, known.sand_to_metal / 1.5)
    rise = 0.5 * (36.0 - known.ambient)
    assert mean[50] - 36.0 == pytest.approx(rise * (1.0 - np.exp(-1.0)), abs=1e-6)
    assert mean[-1] == pytest.approx(36.0 + rise, abs=1e-3)


def test_without_tests_the_usual_temperature_has_a_wide_band() -> None:
    """From eta and the usual return sand: 22 + 0.7 (38 - 22)."""
    mean, sd = temperatures(warmth(warm_log([]), 0), [0.0, 50.0], 6.0)
    assert mean.tolist() == pytest.approx([33.2, 33.2]) and sd.tolist() == pytest.approx([5.0, 5.0])


@cache
def run_in() -> Recommender:
    """Three days of a foundry that follows the recommendation."""
    luck = replace(lucky(411, disturbed=False), late=0.0)
    recommender = Recommender(plant_model(luck))
    SmallPlant(411, luck, hours=72).run(recommender)
    return recommender


def test_moisture_demand_moves_with_clay_and_starts_with_what_tests_ask_for() -> None:
    """Now: the learned demand; later: 0.30 % moisture for each 1 % of clay that comes or goes, 0.14 for
    carbon, 0.12 for fines (the usual coefficients, common_practice)."""
    recommender = run_in()
    at = recommender.log.at[-1] + BATCH_US
    plain = recommender.forecast(at, 48.0)
    more = recommender.forecast(at, 48.0, {"bentonite": 22.0})
    change = more.mean[-1] - plain.mean[-1]
    expected = 0.30 * change[0] + 0.14 * (change[1] + change[2]) + 0.12 * change[3]
    assert more.moisture[-1] - plain.moisture[-1] == pytest.approx(expected, abs=1e-9)
    assert more.moisture[-1] > plain.moisture[-1] + 0.1
    tests = [value for _, name, value, _, _ in recommender.log.results if name == "moisture"]
    assert plain.moisture[0] == pytest.approx(np.mean(tests[-12:]), abs=4.0 * plain.moisture_sd[0] + 0.05)
    assert np.all(np.diff(plain.moisture_sd) > 0.0)
    low, high = plain.band("moisture")
    assert np.allclose(high - low, 2 * 1.645 * plain.moisture_sd)


def test_another_job_burns_more_and_is_warmer() -> None:
    """At sand:metal 4 clay falls faster and the sand warms; the plan of the log is left alone."""
    recommender = run_in()
    at = recommender.log.at[-1] + BATCH_US
    before = recommender.forecast(at, 24.0)
    hot = recommender.forecast(at, 24.0, way=Way(4.0, 0.01))
    assert hot.mean[-1, 0] < before.mean[-1, 0] - 0.2
    assert hot.temperature[-1] > before.temperature[-1] + 2.0
    assert np.array_equal(recommender.forecast(at, 24.0).mean, before.mean)
    assert recommender.settling(at, way=Way(4.0, 0.01)).prepared["active_clay"] < hot.mean[-1, 0]


def samples_of(count: int, *, varied: float, seed: int = 3) -> list[WaterSample]:
    """Tests of sand that needs 0.4 + 0.36 clay + 0.10 carbon + 0.15 fines + 0.02 above 40 C, slope 31."""
    random = np.random.default_rng(seed)
    found = []
    for number in range(count):
        sand = np.array([8.0, 1.4, 2.2, 3.5]) + varied * random.standard_normal(4) * [0.8, 0.3, 0.5, 1.2]
        warm = 42.0 + 6.0 * varied * float(random.standard_normal())
        demand = 0.4 + 0.36 * sand[0] + 0.10 * (sand[1] + sand[2]) + 0.15 * sand[3]
        demand += 0.02 * max(0.0, warm - 40.0)
        moisture = demand + 0.12 * float(random.standard_normal())
        compact = 42.0 + 31.0 * (moisture - demand) + 1.2 * float(random.standard_normal())
        wet = moisture + sqrt(0.06**2 + 0.02**2) * float(random.standard_normal())
        found.append(WaterSample(wet, compact, sand, np.zeros(4), warm, number))
    return found


def test_coefficients_of_varied_sand_are_found() -> None:
    """Within their 95 % limits (a little more for five at once), and far narrower than assumed."""
    samples = samples_of(1500, varied=1.0)
    log = Log(plant_model(Luck()))
    fit = fit_water(log, samples)
    assert fit is not None
    for (name, _), value, sd, truth in zip(
        NAMES[1:], fit.values[1:], fit.sds[1:], (0.36, 0.10, 0.15, 0.02, 31.0), strict=True
    ):
        assert abs(value - truth) < 2.6 * sd, name
    assert np.all(fit.sds[1:] < 0.5 * fit.prior[1:])
    assert 0.9 < fit.misfit < 1.1
    own = demand_of(fit, mean_sand(samples), 42.0)
    sand = {"active_clay": 8.3, "volatiles": 1.5, "fixed_carbon": 2.0, "inert_fines": 4.0}
    assert fitted_demand(own, sand, 45.0) == pytest.approx(0.4 + 0.36 * 8.3 + 0.35 + 0.6 + 0.1, abs=0.03)


def test_the_slope_of_steady_sand_is_that_of_deming() -> None:
    """Noise in both readings of known ratio: the slope is Deming's, in closed form, where an ordinary line
    through the same points is flatter by a fifth.

    Deming regression, closed form (from memory): delta = sd_c^2 / sd_w^2 and
    slope = (S_cc - delta S_ww + sqrt((S_cc - delta S_ww)^2 + 4 delta S_wc^2)) / (2 S_wc).
    """
    samples = samples_of(3000, varied=0.0)
    fit = fit_water(Log(plant_model(Luck())), samples)
    assert fit is not None
    w = np.array([one.moisture for one in samples])
    c = np.array([one.compactability for one in samples])
    (s_ww, s_wc), (_, s_cc) = np.cov(w, c)
    delta = 1.2**2 / (0.06**2 + 0.02**2)
    gap = s_cc - delta * s_ww
    deming = (gap + sqrt(gap**2 + 4.0 * delta * s_wc**2)) / (2.0 * s_wc)
    assert fit.values[-1] == pytest.approx(deming, rel=2e-3)
    assert s_wc / s_ww < 0.85 * deming
    assert fit.sds[1] == pytest.approx(fit.prior[1])


def test_few_samples_say_nothing_of_the_water() -> None:
    """None, and nothing is made up."""
    assert fit_water(Log(plant_model(Luck())), samples_of(6, varied=1.0)) is None


def test_a_plants_own_fit_is_where_the_search_starts() -> None:
    """Ten samples leave the coefficients at the plant's own."""
    own = demand_of(
        fit_water(Log(plant_model(Luck())), samples_of(400, varied=1.0)),  # type: ignore[arg-type]
        mean_sand(samples_of(400, varied=1.0)),
        42.0,
    )
    log = Log(replace(plant_model(Luck()), demand=own, slope=31.0))
    log.made(BatchMade(0, {}))
    fit = fit_water(log, samples_of(10, varied=0.0, seed=5))
    assert fit is not None
    assert fit.start[1:].tolist() == pytest.approx([own.clay, own.carbon, own.fines, own.temperature, 31.0])
    assert fit.values[1] == pytest.approx(own.clay, abs=1e-6)


def test_doubt_about_the_composition_widens_its_coefficients() -> None:
    """Sand known no better than it varies tells nothing sure of its parts, and less of the slope."""
    sure = fit_water(Log(plant_model(Luck())), samples_of(800, varied=1.0))
    vague = [replace(one, prepared_sd=np.full(4, 2.0)) for one in samples_of(800, varied=1.0)]
    unsure = fit_water(Log(plant_model(Luck())), vague)
    assert sure is not None and unsure is not None
    assert np.all(unsure.sds[1:4] > 2.0 * sure.sds[1:4])
    assert unsure.sds[-1] > sure.sds[-1]
    kept = demand_of(unsure, mean_sand(vague), 42.0)
    assert kept.clay == unsure.start[1] and kept.fines == unsure.start[3]


def test_a_level_far_from_the_published_one_is_found() -> None:
    """A plant that needs 1 % less moisture than published: level and slope are found all the same."""
    dry = [replace(one, moisture=one.moisture - 1.0) for one in samples_of(800, varied=1.0)]
    fit, other = (
        fit_water(Log(plant_model(Luck())), dry),
        fit_water(Log(plant_model(Luck())), samples_of(800, varied=1.0)),
    )
    assert fit is not None and other is not None
    assert fit.values[0] == pytest.approx(other.values[0] - 1.0, abs=0.02)
    assert fit.values[-1] == pytest.approx(other.values[-1], rel=0.01)
