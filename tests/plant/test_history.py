"""The records of the simulated foundry: the same for the same seed and hour, nothing from the future."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from sandlab import methods
from sandlab.errors import InputError
from sandlab.labels import data_folder
from sandlab.methods import combine
from sandlab.plant import DEMO_FAULTS, DEMO_SEED, ZONE, History, quiet_baseline, simulate
from sandlab.plant.calendar import Calendar, full_hour, is_running
from sandlab.plant.faults import BASELINE_TO_H
from sandlab.plant.visits import SETS
from sandlab.records import Result
from sandlab.schedule import due_times
from sandlab.specs import Specs, load

UNTIL = datetime(2026, 3, 31, 13, 40, tzinfo=UTC)


@pytest.fixture(scope="module")
def specs() -> Specs:
    """The invented foundry's specs."""
    return load(data_folder("sample_data") / "specs")


@pytest.fixture(scope="module")
def history() -> History:
    """The demo's history at one moment."""
    return simulate(DEMO_SEED, UNTIL, specs_hash="a" * 64)


def results(history: History) -> list[Result]:
    """Every result."""
    return [result for sample in history.samples for result in sample.results]


def test_same_seed_and_hour_same_records() -> None:
    """Ids included, for any minute of the hour; another seed or hour gives another history."""
    first = simulate(3, UNTIL, days=4, specs_hash="a" * 64)
    assert simulate(3, UNTIL + timedelta(minutes=19), days=4, specs_hash="a" * 64) == first
    assert simulate(4, UNTIL, days=4, specs_hash="a" * 64) != first
    assert simulate(3, UNTIL + timedelta(hours=1), days=4, specs_hash="a" * 64) != first
    assert simulate(3, UNTIL, days=4, faults=None, specs_hash="a" * 64) != first


def test_a_moment_without_time_zone_is_refused() -> None:
    """Local time without zone would be a guess."""
    with pytest.raises(InputError, match="no time zone"):
        simulate(1, datetime(2026, 3, 31, 13), specs_hash="")  # noqa: DTZ001


def test_nothing_from_the_future_and_ninety_days_back(history: History) -> None:
    """All times, also those at which results became known, lie in the 90 days before the last full hour."""
    end = full_hour(UNTIL)
    start = end - timedelta(days=90)
    kinds = (history.samples, history.batches, history.receipts, history.production, history.events)
    for records in kinds:
        assert records
        assert all(start <= record.at <= record.recorded_at <= end for record in records)
        assert [record.at for record in records] == sorted(record.at for record in records)
    assert all(sample.at <= result.known_at <= end for sample in history.samples for result in sample.results)
    assert end - history.samples[-1].at <= timedelta(hours=1)


def test_ids_are_uuid4_text_and_differ(history: History) -> None:
    """Over all kinds of records."""
    ids = [
        record.id
        for records in (
            history.samples,
            history.batches,
            history.receipts,
            history.production,
            history.events,
        )
        for record in records
    ]
    assert len(set(ids)) == len(ids)
    assert {UUID(one).version for one in ids[::97]} == {4}


def test_the_line_runs_from_monday_to_saturday_six(history: History) -> None:
    """Local time, over the change to summer time; two batches are at least 3 minutes apart."""
    zone = ZoneInfo(ZONE)
    times = [batch.at for batch in history.batches]
    assert all(is_running(at.astimezone(zone)) for at in times)
    offsets = {at.astimezone(zone).utcoffset() for at in times}
    assert offsets == {timedelta(hours=1), timedelta(hours=2)}
    assert min(np.diff(np.array(times))) == timedelta(minutes=3)
    mondays = [at.astimezone(zone) for at in times if at.astimezone(zone).weekday() == 0]
    assert {(local.hour, local.minute) for local in mondays if local.hour < 7} >= {(6, 0)}
    assert 1400 < sum(batch.return_sand_kg for batch in history.batches) / len(times) < 1600


def test_every_set_of_the_schedule_is_tested(history: History, specs: Specs) -> None:
    """The tests are those of the specs' schedule, at its times, with a few missed and late ones."""
    zone, end = ZoneInfo(ZONE), full_hour(UNTIL)
    for name, entry in specs.systems["main"].schedule.items():
        assert set(SETS[name]) == set(entry.properties)
        slots = due_times(entry, zone=zone, start=end - timedelta(days=90), end=end - timedelta(hours=6))
        slots = tuple(slot for slot in slots if is_running(slot.astimezone(zone)))
        taken = [
            sample.at
            for sample in history.samples
            if sample.point == entry.point and {r.property for r in sample.results} == set(entry.properties)
        ]
        hit = [any(timedelta(0) <= at - slot < timedelta(hours=1) for at in taken) for slot in slots]
        assert 0.85 < sum(hit) / len(slots) <= 1.0, name
        assert len(taken) <= len(slots) + 6
    late = [sample.at.minute for sample in history.samples if len(sample.results) == 6]
    assert 0.005 < sum(minute > 15 for minute in late) / len(late) < 0.08


def test_results_look_like_sand(history: History, specs: Specs) -> None:
    """Nothing impossible, next to nothing doubtful; quiet means within tolerance of the plant's targets."""
    found: dict[str, list[float]] = {}
    for result in results(history):
        assert result.value is not None
        found.setdefault(result.property, []).append(result.value)
    for name, values in found.items():
        low, high = specs.properties[name].impossible
        assert low <= min(values) <= max(values) <= high
        low, high = specs.properties[name].doubtful
        assert np.mean([low <= value <= high for value in values]) > 0.99, name
    for name, target in specs.systems["main"].targets.items():
        if name in found:
            assert abs(np.mean(found[name]) - target.target) < target.tolerance / 2.0, name


def test_values_follow_from_their_readings(history: History, specs: Specs) -> None:
    """The lab arithmetic gives the recorded value from the recorded readings, for every method used."""
    seen: dict[str, int] = {}
    for result in results(history):
        if not result.method or seen.get(result.method, 0) >= 40:
            continue
        seen[result.method] = seen.get(result.method, 0) + 1
        method = specs.methods[result.method]
        assert method.property == result.property
        repeats: dict[int, dict[str, float]] = {}
        for reading in result.readings:
            repeats.setdefault(reading.repeat, {})[reading.name] = reading.value
        values = [methods.compute(method.function, one, method.constants).value for one in repeats.values()]
        rule = method.repeats
        value = values[0]
        if rule:
            value = combine(
                values,
                rule=rule.rule,
                agree_within=rule.agree_within,
                relative=rule.relative,
                count=rule.count,
            ).value
        assert result.value == pytest.approx(value, abs=1e-9)
        for name, spec in method.readings.items():
            assert all(spec.low <= one[name] <= spec.high for one in repeats.values())
    assert len(seen) >= 9


def test_additions_are_what_the_feeders_can_do(history: History, specs: Specs) -> None:
    """Kilograms lie between the feeders' limits and about their reference."""
    feeders = specs.systems["main"].feeders
    for name, feeder in feeders.items():
        kg = np.array([batch.added_kg[feeder.material] for batch in history.batches])
        assert feeder.minimum_kg <= kg.min() <= kg.max() <= feeder.maximum_kg, name
        assert abs(kg.mean() - feeder.reference_kg) < 0.15 * feeder.reference_kg, name
    assert set(history.batches[0].added_kg) == {feeder.material for feeder in feeders.values()}


def test_what_was_poured_uses_the_sand_that_was_made(history: History) -> None:
    """Metal times sand:metal is the dry sand of the batches, to 2 %; cores as the jobs need them."""
    poured = sum(entry.metal_t * entry.sand_to_metal for entry in history.production)
    made = len(history.batches) * 1.5
    assert poured == pytest.approx(made, rel=0.02)
    cores = sum(entry.core_sand_t for entry in history.production)
    metal = sum(entry.metal_t for entry in history.production)
    assert 0.02 < cores / metal < 0.12
    bentonite = sum(batch.added_kg["bentonite"] for batch in history.batches)
    delivered = sum(entry.kg for entry in history.receipts if entry.material == "bentonite")
    assert delivered == pytest.approx(bentonite, rel=0.15)


def test_people_note_what_they_notice(history: History) -> None:
    """The weaker bentonite has its receipt and a note; of the fresh fault nobody knows yet."""
    weak = [entry for entry in history.receipts if entry.assay.get("active_clay", 100.0) < 90.0]
    assert weak
    assert all(entry.material == "bentonite" for entry in weak)
    notes = [event for event in history.events if event.kind == "supplier"]
    assert timedelta(0) < notes[0].at - weak[0].at < timedelta(hours=2)
    fresh = min(fault.start_h for fault in DEMO_FAULTS)
    last = [event for event in history.events if event.kind != "stop"][-1]
    assert last.at < UNTIL - timedelta(hours=fresh)


@pytest.mark.parametrize("day", range(7))
def test_the_quiet_baseline_is_inside_and_quiet(day: int) -> None:
    """On any day of the week it lies within the 90 days and ends before the first fault."""
    until = UNTIL + timedelta(days=day)
    start, end = quiet_baseline(until)
    calendar = Calendar(until - timedelta(days=97), full_hour(until), ZoneInfo(ZONE))
    assert full_hour(until) - timedelta(days=90) < start < end
    assert end <= min(calendar.before_end(fault.start_h) for fault in DEMO_FAULTS)
    assert max(fault.start_h for fault in DEMO_FAULTS) < BASELINE_TO_H
