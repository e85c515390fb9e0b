"""Logging tests: what is saved, what is refused, what needs a word from a person."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from sandlab.errors import InputError, NeedsConfirmation
from sandlab.lab.deriving import recompute
from sandlab.lab.entry import Entry, compute, record_sample
from sandlab.lab.fields import field
from sandlab.lab.judging import judge
from sandlab.lab.opening import Lab, open_lab
from sandlab.lab.rounds import due, sheet
from tests.lab.conftest import Clock, Log


def values(lab: Lab) -> dict[str, str]:
    """The newest sample as shown."""
    return {one.property: one.text for one in sheet(lab, last=1).samples[0].results}


def test_a_saved_sample_carries_typed_and_derived_results(lab: Lab, log: Log) -> None:
    """Comma and point both work; the bond indices follow from the formulas of ICRI Report 610, p. 16."""
    log(compactability="42", moisture="3,20", green_compression_strength="160")
    shown = values(lab)
    psi = 160 / 6.894757
    assert shown["moisture"] == "3.20"
    assert shown["working_bond"] == f"{15.29 * psi / (132.1 - 42):.2f}"
    assert shown["available_bond"] == f"{0.105 * psi + 1.316 * 3.2:.2f}"
    assert shown["moisture_compactability_ratio"] == "0.076"


def test_blank_means_not_measured(lab: Lab, log: Log) -> None:
    """A blank field makes no result, and nothing typed at all is refused."""
    log(compactability="42", moisture=" ")
    assert set(values(lab)) == {"compactability"}
    with pytest.raises(InputError, match="nothing was measured"):
        log(moisture="")


def test_every_impossible_field_is_told_at_once_and_nothing_is_saved(lab: Lab, log: Log) -> None:
    """Letters, a huge number, a negative moisture, two decimal marks: one message each."""
    with pytest.raises(InputError) as caught:
        log(
            compactability="abc",
            moisture="-3",
            green_compression_strength="1e9",
            permeability="1,2.3",
            specimen_weight="149.0",
        )
    told = {problem.where: problem.what for problem in caught.value.problems}
    assert set(told) == {"Compactability", "Moisture", "Green compression strength", "Permeability"}
    assert "impossible" in told["Moisture"]
    assert all(problem.do for problem in caught.value.problems)
    assert sheet(lab).samples == ()


def test_a_value_that_cannot_be_read_is_not_called_missing(lab: Lab, log: Log) -> None:
    """One mistake makes one message: something was typed."""
    with pytest.raises(InputError) as caught:
        log(moisture="abc")
    assert [problem.where for problem in caught.value.problems] == ["Moisture"]


def test_a_doubtful_value_needs_one_confirmation_and_is_flagged(lab: Lab, log: Log) -> None:
    """Unusual but possible: asked once, then saved with the doubt and who confirmed it."""
    with pytest.raises(NeedsConfirmation) as caught:
        log(compactability="24", moisture="3.2")
    assert caught.value.names == ("compactability",)
    saved = log(compactability="24", moisture="3.2", confirmed=("compactability",))
    flags = {one.property: one.flags for one in saved.sample.results}
    assert any("confirmed by JV" in flag for flag in flags["compactability"])
    assert flags["moisture"] == ()


def test_a_time_in_the_future_is_refused(lab: Lab, clock: Clock) -> None:
    """A wrong time would put a result where nobody looks; a wrong year is seen in the message."""
    for later, told in (
        (clock.now + timedelta(hours=1), "09:05 is in the future"),
        (clock.now + timedelta(days=365), "Tue 02 Mar 2027 08:05 is in the future"),
    ):
        with pytest.raises(InputError, match=told):
            record_sample(
                lab, point="muller_discharge", by="JV", entries=[Entry("moisture", "3.2")], taken_at=later
            )


def test_a_clock_set_back_is_noticed(lab: Lab, log: Log, clock: Clock) -> None:
    """Records from later than now: the clock is wrong, or was; a person decides."""
    log(moisture="3.2")
    clock.move(days=-2)
    with pytest.raises(NeedsConfirmation, match="later than this clock") as caught:
        log(moisture="3.3")
    log(moisture="3.3", confirmed=caught.value.names)
    assert len(sheet(lab).samples) == 2


def test_who_and_where_must_be_known(lab: Lab) -> None:
    """No initials and a misspelt point are told together."""
    with pytest.raises(InputError) as caught:
        record_sample(lab, point="muller_dischrge", by=" ", entries=[Entry("moisture", "3.2")])
    told = "\n".join(str(problem) for problem in caught.value.problems)
    assert "did you mean 'muller_discharge'?" in told
    assert "initials" in told


def test_readings_are_computed_combined_and_kept(lab: Lab) -> None:
    """Two weighings become one result by the method's rule; the readings are kept with it."""
    entry = Entry("moisture", method="moisture_oven", readings=(("50", "48,4"), ("50.0", "48.35")))
    shown = compute(lab, field(lab, "moisture", point="muller_discharge", now=lab.now()), entry)
    assert shown.value == pytest.approx(3.25)
    saved = record_sample(lab, point="muller_discharge", by="JV", entries=[entry])
    kept = lab.store.readings(saved.sample.sample, "moisture")
    assert [(one.repeat, one.name, one.value) for one in kept] == [
        (1, "moist_g", 50.0),
        (1, "dry_g", 48.4),
        (2, "moist_g", 50.0),
        (2, "dry_g", 48.35),
    ]


def test_repeats_that_disagree_are_flagged(lab: Lab) -> None:
    """More than the method allows apart: saved, but doubtful in words."""
    entry = Entry("moisture", method="moisture_oven", readings=(("50", "48.4"), ("50", "47.9")))
    saved = record_sample(lab, point="muller_discharge", by="JV", entries=[entry])
    assert any("differ" in flag for flag in saved.sample.results[0].flags)


def test_impossible_readings_are_told_by_reading_and_repeat(lab: Lab) -> None:
    """Which reading of which repeat, and what can be read."""
    entry = Entry("moisture", method="moisture_oven", readings=(("50", "x"), ("5000", "48.4")))
    with pytest.raises(InputError) as caught:
        record_sample(lab, point="muller_discharge", by="JV", entries=[entry])
    places = [problem.where for problem in caught.value.problems]
    assert any("repeat 1" in place for place in places)
    assert any("repeat 2" in place for place in places)


def test_an_old_result_is_explained_after_the_specs_changed(lab: Lab, clock: Clock) -> None:
    """The specs in force are kept once per hash; the old result comes out of its readings again."""
    entry = Entry("active_clay", method="methylene_blue", readings=(("42.8", "5.0"),))
    saved = record_sample(lab, point="muller_discharge", by="JV", entries=[entry])
    (before,) = (one.value for one in saved.sample.results if one.property == "active_clay")
    specs_folder = lab.folder / "specs"
    specs_folder.mkdir()
    (specs_folder / "methods.toml").write_text("[methylene_blue.constants]\nml_per_percent = 6.0\n")
    changed = open_lab(lab.folder, clock=clock)
    try:
        assert changed.specs.hash != lab.specs.hash
        assert recompute(changed.store, saved.sample.sample, "active_clay", 0) == pytest.approx(before)
        clock.move(hours=1)
        again = record_sample(changed, point="muller_discharge", by="JV", entries=[entry])
        (after,) = (one.value for one in again.sample.results if one.property == "active_clay")
        assert after != pytest.approx(before)
    finally:
        changed.close()


@pytest.mark.parametrize(
    ("text", "state"),
    [
        ("", "not_measured"),
        ("abc", "impossible"),
        ("95", "impossible"),
        ("24", "doubtful"),
        ("33", "past_reaction_limit"),
        ("34", "outside_tolerance"),
        ("37", "outside_tolerance"),
        ("38", "in_tolerance"),
        ("42,5", "in_tolerance"),
    ],
)
def test_a_value_is_judged_as_typed(lab: Lab, text: str, state: str) -> None:
    """The gravest state that holds, always with words; only doubt asks for confirmation."""
    one = judge(field(lab, "compactability", point="muller_discharge", now=lab.now()), text)
    assert one.state == state
    assert one.words
    assert one.needs_confirmation == (state == "doubtful")


def test_due_sets_follow_the_clock(lab: Lab, log: Log, clock: Clock) -> None:
    """Due at the hour, overdue after the grace, done after logging, and what is left out stays due."""
    log(**HOUR)
    clock.move(minutes=50)
    assert hourly(lab) == ("due", "Hourly set: due at 09:00")
    clock.move(minutes=30)
    assert hourly(lab) == ("overdue", "Hourly set: 25 min late")
    log(**{name: text for name, text in HOUR.items() if name != "moisture"})
    assert hourly(lab) == ("overdue", "Hourly set, still moisture: 25 min late")
    log(moisture="3.3")
    assert hourly(lab) == ("done", "Hourly set: done, next at 10:00")
    clock.move(hours=3)
    assert hourly(lab) == ("overdue", "Hourly set: 25 min late, 2 missed before")


HOUR = {
    "compactability": "42",
    "moisture": "3.3",
    "green_compression_strength": "160",
    "permeability": "110",
    "specimen_weight": "149.5",
    "sand_temperature": "34",
}


def hourly(lab: Lab) -> tuple[str, str]:
    """State and words of the hourly set."""
    (one,) = (one for one in due(lab).sets if one.test_set == "hourly")
    return one.state, one.words


def test_display_units_are_converted_at_the_border_only(lab: Lab, clock: Clock) -> None:
    """A plant that types psi stores kPa and reads psi back."""
    (lab.folder / "specs").mkdir()
    (lab.folder / "specs" / "system.toml").write_text(
        '[plant]\ndecimal_mark = ","\n[plant.units]\npressure = "psi"\ntemperature = "F"\n'
    )
    imperial = open_lab(lab.folder, clock=clock)
    try:
        entries = [Entry("green_compression_strength", "23,2"), Entry("sand_temperature", "95")]
        saved = record_sample(imperial, point="muller_discharge", by="JV", entries=entries)
        shown = {one.property: f"{one.text} {one.unit}" for one in saved.sample.results}
        assert shown == {"green_compression_strength": "23,2 psi", "sand_temperature": "95 F"}
        stored = imperial.store.results("main", "green_compression_strength")["value"][0]
        assert stored == pytest.approx(23.2 * 6.894757, rel=1e-6)
        assert imperial.store.results("main", "sand_temperature")["value"][0] == pytest.approx(35.0)
    finally:
        imperial.close()


def test_saved_times_are_utc(lab: Lab, log: Log) -> None:
    """Whatever the plant's zone, the store keeps UTC."""
    saved = log(moisture="3.2")
    assert saved.sample.taken_at == datetime(2026, 3, 2, 8, 5, tzinfo=UTC)
