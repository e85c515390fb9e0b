"""What the engineer is told of the balance: state, flow, what-if, plant values, books."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sandlab.errors import InputError, SandlabError
from sandlab.lab.asking import WhatIf, poured_jobs
from sandlab.lab.balancing import balance
from sandlab.lab.bookkeeping import period_books
from sandlab.lab.facts import SandForecastFacts
from sandlab.lab.flowing import flow_picture
from sandlab.lab.foreseeing import forecast, question, reckon
from sandlab.lab.identifying import solve, window_of
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.plant_log import log_production, plan_job
from tests.lab.conftest import Ids
from tests.lab.sand_plant import sand_line

NOW = datetime(2026, 3, 13, 14, 5, tzinfo=UTC)


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten days of the small line, written once."""
    folder = tmp_path_factory.mktemp("sand") / "plant"
    with sand_line(folder, NOW):
        return folder


@pytest.fixture
def sand(template: Path, tmp_path: Path) -> Iterator[Lab]:
    """The small line, open."""
    folder = Path(shutil.copytree(template, tmp_path / "plant"))
    lab = open_lab(folder, clock=lambda: NOW, new_id=Ids())
    yield lab
    lab.close()


def test_the_state_has_bands_around_what_was_tested(sand: Lab) -> None:
    """Tests of clay swing about 7.9 and of volatiles about 1.35: the estimates lie there, in their bands."""
    facts = balance(sand)
    clay, volatiles = facts.prepared[0], facts.prepared[1]
    assert (clay.name, volatiles.name) == ("active_clay", "volatiles")
    assert clay.value == pytest.approx(7.9, abs=0.2) and volatiles.value == pytest.approx(1.35, abs=0.1)
    for one in (*facts.prepared, *facts.returned, *facts.slow):
        assert one.low < one.value < one.high
        assert one.high - one.low == pytest.approx(2 * 1.645 * one.sd)
    needed = next(one for one in facts.prepared if one.name == "moisture")
    assert needed.value == pytest.approx(3.4, abs=0.15) and needed.target is None
    assert {one.name for one in facts.returned} == {"active_clay", "volatiles", "fixed_carbon", "inert_fines"}
    assert facts.words.endswith(".")


def test_the_courses_join_past_and_outlook(sand: Lab) -> None:
    """Bands over the last days up to now, then three days ahead, with the tests beside them."""
    clay = balance(sand).courses[0]
    assert clay.at[0] < NOW - timedelta(days=2) and clay.at[-1] == pytest.approx(
        NOW + timedelta(days=3), abs=timedelta(hours=2)
    )
    assert list(clay.at) == sorted(clay.at)
    assert len(clay.tests) == pytest.approx(30, abs=2)
    assert all(low < mean < high for low, mean, high in zip(clay.low, clay.mean, clay.high, strict=True))


def test_the_flow_of_today_is_that_of_the_log(sand: Lab) -> None:
    """Two batches an hour of 10.5 kg of bentonite; everything that comes in leaves."""
    flow = balance(sand).flow
    assert flow is not None
    arms = {arm.name: arm for one in flow.stations for arm in one.comes}
    assert arms["bentonite"].kg_per_h == pytest.approx(2 * 10.5)
    assert arms["new_sand"].kg_per_h == pytest.approx(40.0)
    assert flow.comes_kg_per_h == pytest.approx(flow.leaves_kg_per_h, rel=1e-9)
    assert sum(arm.kg_per_h for one in flow.stations for arm in one.leaves) == pytest.approx(
        flow.leaves_kg_per_h
    )
    assert flow.batches == pytest.approx(29, abs=1)
    assert flow.cycle_h == pytest.approx(20_000 / (2 * 1500 * (1 - 0.022)), rel=1e-3)
    picture = flow_picture(flow)
    assert picture.stations[0].name == "Muller"


def test_no_batches_is_said_with_what_to_do(lab: Lab) -> None:
    """An empty plant."""
    for verb in (balance, forecast, period_books):
        with pytest.raises(SandlabError) as caught:
            verb(lab)
        assert caught.value.problems[0].do


def one_course(facts: SandForecastFacts, name: str) -> float:
    """Where a quantity ends."""
    return next(one.mean[-1] for one in facts.courses if one.name == name)


def test_what_if_moves_the_sand_the_right_way(sand: Lab) -> None:
    """Bentonite lifts clay and moisture demand, a hot job burns clay and warms, new sand thins fines."""
    plain = forecast(sand)
    more = forecast(sand, WhatIf(kg={"bentonite": 16.0}))
    assert one_course(more, "active_clay") > one_course(plain, "active_clay") + 0.3
    assert one_course(more, "moisture") > one_course(plain, "moisture")
    assert more.cost_per_t_metal > plain.cost_per_t_metal
    hot = forecast(sand, WhatIf(sand_to_metal=3.5))
    assert one_course(hot, "active_clay") < one_course(plain, "active_clay") - 0.3
    assert one_course(hot, "sand_temperature") > one_course(plain, "sand_temperature") + 1.0
    thinned = forecast(sand, WhatIf(new_sand_per_t=300.0))
    assert one_course(thinned, "inert_fines") < one_course(plain, "inert_fines")
    assert {one.name for one in plain.courses} >= {"moisture", "sand_temperature"}


def test_a_job_mix_adds_up_over_the_metal(sand: Lab) -> None:
    """Half and half of 5.6 and 6.6 is 6.1; cores (0.02 + 0.10)/2 t/t; new sand per t of metal as asked."""
    assert poured_jobs(sand) == {
        "gully grate": pytest.approx((5.6, 0.02)),
        "manhole frame": pytest.approx((6.6, 0.10)),
    }
    mix = {"gully grate": 1.0, "manhole frame": 1.0}
    facts = forecast(sand, WhatIf(jobs=mix, new_sand_per_t=90.0))
    assert facts.sand_to_metal == pytest.approx(6.1)
    assert facts.core_sand_t_per_t == pytest.approx(0.06)
    assert facts.job == "gully grate 50%, manhole frame 50%"
    new_sand = next(one for one in facts.settings if one.feeder == "new_sand")
    assert new_sand.kg_per_t_metal == pytest.approx(90.0)


def test_new_sand_that_holds_the_fines(sand: Lab) -> None:
    """What is proposed, run for long, holds them; an impossible level names its limit."""
    facts = forecast(sand, WhatIf(fines=3.0))
    assert facts.new_sand is not None and not facts.new_sand.binds
    assert facts.new_sand.reached == pytest.approx(3.0, abs=0.01)
    assert "hold the inert fines at 3.0 %" in facts.new_sand.words
    low = forecast(sand, WhatIf(fines=0.2)).new_sand
    assert low is not None and "cannot hold" in low.words and "the most that is fed" in low.words
    high = forecast(sand, WhatIf(fines=9.0)).new_sand
    assert high is not None and "stay below 9.0 % anyway: no new sand at all" in high.words


def test_a_schedule_is_run_first_and_the_last_days_mix_after_it(sand: Lab) -> None:
    """Jobs of 5.6 and 6.6, 0.02 and 0.10 t/t in turn: the long run is their mix over the metal, not one job.

    Shift about, each with 24 t of sand: metal 24/5.6 and 24/6.6, so the mean ratio is their harmonic mean.
    """
    plain = forecast(sand)
    assert plain.sand_to_metal == pytest.approx(2.0 / (1.0 / 5.6 + 1.0 / 6.6), rel=0.01)
    assert plain.core_sand_t_per_t == pytest.approx(
        (0.02 / 5.6 + 0.10 / 6.6) * plain.sand_to_metal / 2, rel=0.01
    )
    assert plain.job == "as in the last 10 days"
    plan_job(
        sand, job="hydrant", start=NOW, until=NOW + timedelta(hours=8), sand_to_metal=2.5,
        core_sand_t_per_t=0.5, by="HL",
    )  # fmt: skip
    ahead = forecast(sand)
    assert ahead.job == "as planned, then as in the last 10 days"
    assert [one.value for one in ahead.settling] == pytest.approx([one.value for one in plain.settling])
    assert ahead.cost_per_t_metal == pytest.approx(plain.cost_per_t_metal)
    clay, before = ahead.courses[0], plain.courses[0]
    lost = [b - a for a, b in zip(clay.mean, before.mean, strict=True)]
    assert max(lost) > 0.3 and lost[-1] < max(lost)
    settled = next(one.value for one in plain.settling if one.name == "active_clay")
    month = forecast(sand, WhatIf(days=60.0))
    assert one_course(month, "active_clay") == pytest.approx(settled, abs=0.02)


def test_impossible_what_ifs_are_told_all_at_once(sand: Lab) -> None:
    """Days, job, feeder and amount, each with what to do."""
    asked = WhatIf(days=0.0, jobs={"gully": 1.0}, kg={"bentonit": 3.0, "carbon": 900.0, "water": 20.0})
    with pytest.raises(InputError) as caught:
        forecast(sand, asked)
    words = " ".join(str(one) for one in caught.value.problems)
    assert "give up to 60" in words and "did you mean 'gully grate'" in words
    assert "did you mean 'bentonite'" in words and "900 kg is impossible" in words and "water" in words


def test_a_what_if_can_be_ended(sand: Lab) -> None:
    """Whoever watches the progress may end it; nothing of the store is needed meanwhile."""
    seen: list[float] = []

    def stop(share: float) -> None:
        seen.append(share)
        if share > 0.2:
            raise KeyboardInterrupt

    one = question(sand, WhatIf())
    sand.close()
    with pytest.raises(KeyboardInterrupt):
        reckon(one, stop)
    assert seen[0] < seen[-1] < 1.0


def test_plant_values_come_with_limits_and_gaps(sand: Lab) -> None:
    """Every value has limits; what the days cannot tell is said; nothing is accepted by itself."""
    window = window_of(sand, 9.0)
    steps: list[float] = []
    facts = solve(window, steps.append)
    assert steps and max(steps) <= 1.0
    names = {one.name for one in facts.values}
    assert {"clay_wear_factor", "core_retention", "demand_clay", "slope"} <= names
    for one in facts.values:
        assert one.low <= one.value <= one.high
        assert one.identified or one.proposed is None
    unknown = [one for one in facts.values if not one.identified]
    assert unknown and all(one.label[1:] in facts.remarks[0] for one in unknown)
    assert set(facts.acceptable_sd) <= set(facts.acceptable)
    with pytest.raises(InputError, match="20 to 30"):
        window_of(sand, 1.0)


def test_the_books_of_a_week(sand: Lab) -> None:
    """kg per t of metal is what was fed over what was poured; a closed account says so."""
    facts = period_books(sand)
    used = {one.feeder: one for one in facts.used}
    batches = 7 * 24 * 2
    assert used["bentonite"].kg == pytest.approx(batches * 10.5, rel=0.01)
    assert used["bentonite"].kg_per_t_metal == pytest.approx(used["bentonite"].kg / facts.metal_t)
    assert {one.name for one in facts.accounts} == {"active_clay", "volatiles", "fixed_carbon"}
    assert "Inert fines: too few tests at the ends of the period to close." in facts.findings
    for one in facts.accounts:
        came = sum(one.brought.values())
        assert one.closing_kg == pytest.approx(
            came + one.formed_kg - one.burned_kg - one.dust_kg - one.left_kg - one.gained_kg, abs=1e-6
        )
    with pytest.raises(InputError, match="earlier time first"):
        period_books(sand, window_from=NOW, window_to=NOW - timedelta(days=1))


def test_metal_without_batches_is_told_by_the_books(sand: Lab) -> None:
    """As much metal again written down for the week as the batches show: batches are missing."""
    assert not any("missing from the log" in one for one in period_books(sand).findings)
    other = replace(sand, new_id=Ids(9_000_000))
    log_production(
        other, job="cover", start=NOW - timedelta(days=7), until=NOW, metal_t=84.0, sand_to_metal=6.1,
        core_sand_t=0.0, by="HL",
    )  # fmt: skip
    facts = period_books(sand)
    assert any("batches are missing from the log" in one for one in facts.findings)
    assert "as far as the log goes" in facts.words


def test_books_that_do_not_close_point_somewhere(tmp_path: Path) -> None:
    """Bentonite logged at twice what the sand shows: the books name the feeder or a leak."""
    with sand_line(tmp_path / "plant", NOW, days=7, bentonite=24.0) as lab:
        facts = period_books(lab)
    clay = next(one for one in facts.accounts if one.name == "active_clay")
    assert not clay.closes and clay.closing_kg > 0
    assert "do not close" in facts.words
    assert any("Bentonite may feed less than it shows, or sand leaves" in one for one in facts.findings)


def test_sand_that_nobody_tested_is_not_called_right(tmp_path: Path) -> None:
    """Batches alone: the bands are wide, and the sentence asks for tests."""
    with sand_line(tmp_path / "plant", NOW, days=3, tested=False) as lab:
        facts = balance(lab)
    assert "Active clay is only known to" in facts.words and "test it" in facts.words
    assert "within tolerance" not in facts.words
