"""What is saved comes back as it was."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from typing import get_args
from zoneinfo import ZoneInfo

import pytest

from sandlab.records import AnyRecord, Batch, Event, Production, Sample
from sandlab.store import Store, open_store
from sandlab.store.schema import TABLES
from tests.store.examples import HASH, SIX, SYSTEM, TEXT, TEXTS, hours, make, new_id, one_of_each, sample


def test_every_kind_of_record_has_its_table() -> None:
    """No kind of record is forgotten, and every field of one has its column or its own table."""
    assert set(TABLES) == set(get_args(AnyRecord))
    elsewhere = {"results", "result", "added_kg"}
    for kind, table in TABLES.items():
        assert set(kind.model_fields) - {column.name for column in table.columns} <= elsewhere, kind


def test_every_kind_of_record_comes_back_equal(store: Store) -> None:
    """Each by its id; the sample comes with the value in force."""
    records = one_of_each()
    assert store.save(records, specs_texts=TEXTS) == len(records)
    for record in records:
        back = store.record(type(record), record.id)
        if isinstance(record, Sample):
            assert isinstance(back, Sample)
            assert back.results[1].value == 3.4
            record = record.model_copy(update={"results": (record.results[0], back.results[1])})
        assert back == record


def test_a_sample_comes_back_with_readings_and_flags(store: Store, place: str) -> None:
    """Also to somebody who opens the store later."""
    taken = sample()
    store.save([taken], specs_texts=TEXTS)
    again = open_store(place, readonly=True)
    assert again.sample(taken.id) == taken
    assert again.samples(SYSTEM) == (taken,)
    assert again.readings(taken.id, "moisture") == taken.results[1].readings
    assert again.readings(taken.id, "compactability") == ()
    again.close()


def test_a_long_save_writes_what_a_short_one_does(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """Many rows go to the driver another way: every column is the same in both."""
    taken = sample()
    copies = [taken.model_copy(update={"id": new_id()}) for _ in range(3)]
    store.save([taken], specs_texts=TEXTS)
    monkeypatch.setattr("sandlab.store.saving.LONG", 2)
    store.save(copies)
    for copy in copies:
        assert store.sample(copy.id) == copy
        assert store.readings(copy.id, "moisture") == taken.results[1].readings
    frame = store.results(SYSTEM, "moisture").drop("sample")
    assert frame.height == 4
    assert frame.unique().height == 1


def test_what_is_not_there_is_none(store: Store) -> None:
    """Unknown ids and hashes are no error."""
    assert store.sample(new_id()) is None
    assert store.record(Batch, new_id()) is None
    assert store.specs_text("0" * 64) is None
    assert store.samples(SYSTEM) == ()
    assert store.results(SYSTEM, "moisture").is_empty()
    assert store.revisions(new_id(), "moisture").is_empty()
    assert store.readings(new_id(), "moisture") == ()
    assert store.latest_recorded_at(SYSTEM) is None


@pytest.mark.parametrize("zone", [timezone(timedelta(hours=-5, minutes=-30)), ZoneInfo("Europe/London")])
def test_times_of_other_zones_come_back_in_utc(store: Store, zone: timezone | ZoneInfo) -> None:
    """To the microsecond, and in the hour that a clock change repeats."""
    local = datetime(2026, 10, 25, 1, 30, 0, 123_457, tzinfo=zone, fold=1)
    taken = sample(at=local, results=())
    store.save([taken], specs_texts=TEXTS)
    back = store.sample(taken.id)
    assert back is not None
    assert back.at.utcoffset() == timedelta(0)
    assert back.at.timestamp() == local.timestamp()
    assert back.at.microsecond == 123_457


def test_specs_text_is_kept_once_and_comes_back(store: Store) -> None:
    """Every sample may bring it; one row holds it."""
    store.save([sample()], specs_texts=TEXTS)
    store.save([sample()], specs_texts=TEXTS)
    store.save([sample()])
    assert store.specs_text(HASH) == TEXT


def test_records_come_oldest_first_and_can_be_narrowed(store: Store) -> None:
    """By time, both ends included, and to the last ones; other systems stay out."""
    events = [make(Event, at=hours(hour), text=f"{hour} o'clock") for hour in (3, 1, 2)]
    store.save([*events, make(Event, at=hours(2), system="core shop", text="elsewhere")])
    by_time = tuple(sorted(events, key=lambda event: event.at))
    assert store.records(Event, SYSTEM) == by_time
    assert store.records(Event, SYSTEM, since=hours(2)) == by_time[1:]
    assert store.records(Event, SYSTEM, until=hours(2)) == by_time[:2]
    assert store.records(Event, SYSTEM, last=1) == by_time[2:]
    assert store.records(Event, SYSTEM, until=hours(2), last=1) == by_time[1:2]


def test_samples_can_be_narrowed(store: Store) -> None:
    """Each comes with its own results and readings."""
    taken = [sample(3.0 + hour / 10, at=hours(hour)) for hour in range(4)]
    store.save(taken, specs_texts=TEXTS)
    assert store.samples(SYSTEM, last=2) == tuple(taken[2:])
    assert store.samples(SYSTEM, since=hours(1), until=hours(2)) == tuple(taken[1:3])
    assert store.latest_recorded_at(SYSTEM) == hours(3)


def test_batches_come_as_one_row_for_each_material(store: Store) -> None:
    """A batch without additions has one row without material."""
    first = make(Batch, number=1, return_sand_kg=1500.0, added_kg={"water": 40.0, "bentonite": 5.5})
    second = make(Batch, number=2, at=hours(1), return_sand_kg=1480.0, added_kg={})
    store.save([second, first])
    frame = store.frame(Batch, SYSTEM)
    assert frame["number"].to_list() == [1, 1, 2]
    assert frame["material"].to_list() == ["bentonite", "water", None]
    assert frame["kg"].to_list() == [5.5, 40.0, None]
    assert frame["at"].to_list() == [SIX, SIX, hours(1)]
    assert store.frame(Batch, SYSTEM, last=1)["number"].to_list() == [2]
    assert store.records(Batch, SYSTEM) == (first, second)


def test_production_comes_as_a_frame_sorted_by_time(store: Store) -> None:
    """With times as times, and yes or no as such."""
    given = {"job": "manhole frames", "sand_to_metal": 6.0, "core_sand_t": 0.4}
    stretches = [
        make(Production, at=hours(hour), until=hours(hour + 1), metal_t=hour, **given) for hour in (2, 1)
    ]
    store.save(stretches)
    frame = store.frame(Production, SYSTEM)
    assert frame["metal_t"].to_list() == [1.0, 2.0]
    assert frame["until"].to_list() == [hours(2), hours(3)]
    assert frame["voided"].to_list() == [False, False]
