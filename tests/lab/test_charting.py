"""Charts of recorded tests: frozen limits, missing tests, signals, states, notes."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sandlab.errors import InputError
from sandlab.lab.charting import add_event, chart, freeze_baseline, overview, picture
from sandlab.lab.opening import Lab
from sandlab.lab.sources import usual_interval_min
from tests.lab.conftest import Clock, Log

# The ten flow rates of the NIST/SEMATECH e-Handbook, 6.3.2.2, each 100 higher to be a possible weight.
FLOW = ("149.6", "147.6", "149.9", "151.3", "147.8", "151.2", "152.6", "152.4", "153.6", "152.1")


def history(
    lab: Lab, log: Log, clock: Clock, texts: tuple[str, ...], *, name: str = "specimen_weight"
) -> None:
    """One test an hour."""
    for text in texts:
        log(**{name: text}, confirmed=(name,))
        clock.move(hours=1)


def freeze(lab: Lab, clock: Clock, name: str = "specimen_weight") -> None:
    """Limits from everything so far."""
    start = clock.now - timedelta(days=2)
    freeze_baseline(lab, name, window_from=start, window_to=clock.now, by="MO", reason="trial run")


def test_limits_are_those_of_the_handbook_example(lab: Lab, log: Log, clock: Clock) -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.2: centre 50.81, mean moving range 1.8778 (shown as sigma)."""
    history(lab, log, clock, FLOW)
    freeze(lab, clock)
    baseline = chart(lab, "specimen_weight").baseline
    assert baseline is not None
    assert f"{baseline.centre:.2f}" == "150.81"
    # 1.8778 / 1.128; the default limits use the overall standard deviation, which stands beside it.
    assert baseline.sigma_moving_range == pytest.approx(1.8778 / 1.1284, abs=5e-4)
    assert baseline.upper == pytest.approx(150.81 + 3 * baseline.sigma)
    assert (baseline.count, baseline.frozen_by, baseline.reason) == (10, "MO", "trial run")


def test_limits_stay_until_somebody_freezes_new_ones(lab: Lab, log: Log, clock: Clock) -> None:
    """Later values move no limit; a new baseline does, and the chart then shows the new one."""
    history(lab, log, clock, FLOW)
    freeze(lab, clock)
    first = chart(lab, "specimen_weight").baseline
    history(lab, log, clock, ("160", "161", "162"))
    assert chart(lab, "specimen_weight").baseline == first
    freeze(lab, clock)
    assert chart(lab, "specimen_weight").baseline != first


def test_a_point_beyond_a_limit_is_an_alarm_in_words(lab: Lab, log: Log, clock: Clock) -> None:
    """The overview lists it first, and saving the value already said so."""
    history(lab, log, clock, FLOW)
    freeze(lab, clock)
    saved = log(specimen_weight="164")
    assert any("Specimen weight" in one and "164" in one for one in saved.consequences)
    facts = chart(lab, "specimen_weight")
    assert facts.state == "signal"
    assert facts.signals[-1].alarm
    assert facts.points[facts.signals[-1].index].value == 164.0
    assert overview(lab).properties[0].property == "specimen_weight"


def test_a_bound_is_plotted_as_one(lab: Lab, log: Log, clock: Clock) -> None:
    """A value written <2.6 counts as 2.6, and read-out, words, overview and the set together say so."""
    history(lab, log, clock, ("3.21", "3.22", "<2.60"), name="moisture")
    log(compactability="42", moisture=">3.30", confirmed=("moisture",))
    facts = chart(lab, "moisture")
    assert [one.value for one in facts.points] == [3.21, 3.22, 2.60, 3.30]
    assert [one.flags[-1:] for one in facts.points] == [
        (), (), ("written <2.60: counts as 2.60",), ("written >3.30: counts as 3.30",),
    ]  # fmt: skip
    told = " 2 values are only bounds and count as the numbers written: >3.30 of 11:05, <2.60 of 10:05."
    assert facts.words.endswith(told)
    row = next(one for one in overview(lab).properties if one.property == "moisture")
    assert row.last_text == ">3.30"
    clock.move(hours=1)
    log(moisture="3.20")
    row = next(one for one in overview(lab).properties if one.property == "moisture")
    assert row.last_text == "3.20"


def test_run_rules_are_shown_but_raise_no_alarm(lab: Lab, log: Log, clock: Clock) -> None:
    """Ten in a row above the centre: shown with its reason, state unchanged."""
    history(lab, log, clock, FLOW)
    freeze(lab, clock)
    history(
        lab,
        log,
        clock,
        ("151.2", "152.6", "151.3", "152.4", "151.4", "152.1", "151.3", "152.4", "151.1", "152.0"),
    )
    facts = chart(lab, "specimen_weight")
    assert facts.state == "in_control"
    assert facts.signals
    assert not any(one.alarm for one in facts.signals)


def test_a_missing_test_ends_a_run(lab: Lab, log: Log, clock: Clock) -> None:
    """The same ten with a pause in the middle complete no run of nine."""
    history(lab, log, clock, FLOW)
    freeze(lab, clock)
    history(lab, log, clock, ("149.9", "152.6", "151.3", "152.4", "151.4"))
    clock.move(hours=5)
    history(lab, log, clock, ("152.1", "151.3", "152.4", "151.1", "152.0"))
    assert not [one for one in chart(lab, "specimen_weight").signals if len(one.members) >= 9]


def test_past_a_reaction_limit_outranks_everything(lab: Lab, log: Log) -> None:
    """No baseline is needed to see that 30 % compactability cannot be moulded."""
    log(compactability="30")
    facts = chart(lab, "compactability")
    assert facts.state == "past_reaction_limit"
    assert "34" in facts.words


def test_old_data_is_shown_as_old(lab: Lab, log: Log, clock: Clock) -> None:
    """After three missed tests the chart says that it does not know."""
    history(lab, log, clock, FLOW)
    freeze(lab, clock)
    clock.move(hours=6)
    facts = chart(lab, "specimen_weight")
    assert facts.state == "stale"
    assert "7 h" in facts.words


def test_limits_follow_the_display_unit(lab: Lab, log: Log, clock: Clock) -> None:
    """The same chart in psi: every figure scaled, no signal gained or lost."""
    from sandlab.lab.opening import open_lab

    values = ("150", "155", "160", "158", "162", "149", "157", "161", "155", "153", "205")
    history(lab, log, clock, values[:-1], name="green_compression_strength")
    freeze(lab, clock, "green_compression_strength")
    log(green_compression_strength=values[-1])
    metric = chart(lab, "green_compression_strength")
    (lab.folder / "specs").mkdir()
    (lab.folder / "specs" / "system.toml").write_text('[plant.units]\npressure = "psi"\n')
    imperial_lab = open_lab(lab.folder, clock=clock)
    try:
        imperial = chart(imperial_lab, "green_compression_strength")
    finally:
        imperial_lab.close()
    assert metric.baseline
    assert imperial.baseline
    assert imperial.baseline.upper == pytest.approx(metric.baseline.upper / 6.894757, rel=1e-6)
    assert [one.index for one in imperial.signals] == [one.index for one in metric.signals]
    assert (imperial.unit, imperial.decimals) == ("psi", 1)
    assert "psi" in imperial.signals[-1].reason


def test_freezing_needs_who_why_and_enough_tests(lab: Lab, log: Log, clock: Clock) -> None:
    """Three tests are no baseline; a baseline without a name or reason is none either."""
    history(lab, log, clock, FLOW[:3])
    with pytest.raises(InputError, match="at least 8"):
        freeze(lab, clock)
    with pytest.raises(InputError) as caught:
        freeze_baseline(lab, "specimen_weight", window_from=clock.now, window_to=clock.now, by="", reason="")
    assert len(caught.value.problems) == 2
    earlier = clock.now - timedelta(hours=2)
    with pytest.raises(InputError, match="ends before it begins"):
        freeze_baseline(lab, "specimen_weight", window_from=clock.now, window_to=earlier, by="MO", reason="x")
    with pytest.raises(InputError, match="did you mean 'permeability'"):
        freeze_baseline(lab, "permeabilty", window_from=clock.now, window_to=clock.now, by="MO", reason="x")


def test_a_window_ends_now_at_the_latest(lab: Lab, log: Log, clock: Clock) -> None:
    """Tests to come would count as its own, and the baseline would never be found to have changed."""
    history(lab, log, clock, FLOW)
    start, now = clock.now - timedelta(days=2), clock.now
    end = now + timedelta(days=60)
    found = freeze_baseline(
        lab, "specimen_weight", window_from=start, window_to=end, by="MO", reason="trial run"
    )
    assert (found.window_to, found.count) == (now, 10)


def test_notes_stand_on_the_time_line(lab: Lab, log: Log, clock: Clock) -> None:
    """An event between two tests is part of the chart and of its picture."""
    history(lab, log, clock, FLOW[:2])
    add_event(lab, text="new bentonite lot", by="MO", kind="supplier")
    history(lab, log, clock, FLOW[2:4])
    facts = chart(lab, "specimen_weight")
    assert [one.text for one in facts.events] == ["new bentonite lot"]
    drawn = picture(facts)
    assert [mark.label for mark in drawn.events] == ["new bentonite lot"]
    assert drawn.values.tolist() == [149.6, 147.6, 149.9, 151.3]


def test_derived_properties_are_tested_as_often_as_their_rarest_input(lab: Lab) -> None:
    """Working bond comes hourly with strength and compactability, dead clay weekly with AFS clay."""
    assert usual_interval_min(lab, "working_bond") == 60
    assert usual_interval_min(lab, "mulling_efficiency") == 60
    assert usual_interval_min(lab, "dead_clay") == 7 * 1440
