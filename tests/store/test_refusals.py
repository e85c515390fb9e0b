"""A save is whole or not at all, and says why."""

from __future__ import annotations

import math
import sqlite3
from datetime import datetime
from pathlib import Path

import pytest

from sandlab.errors import InputError, RecordRefused, StoreError
from sandlab.records import Batch, Comment, Event, Reading, Receipt, Release, Result
from sandlab.store import Store, open_store
from tests.store.examples import (
    HASH,
    SYSTEM,
    TEXT,
    TEXTS,
    amendment,
    hours,
    make,
    new_id,
    one_of_each,
    sample,
)


def test_a_known_id_is_refused_with_the_whole_batch(store: Store) -> None:
    """Also when it stands twice in one save."""
    first, second = make(Event, text="first"), make(Event, text="second")
    store.save([first])
    with pytest.raises(RecordRefused) as refused:
        store.save([second, first])
    assert str(refused.value) == (
        f"event {first.id}: a record of this id is saved already; "
        "give a new record an id of its own; a correction names the old one in `revises`"
    )
    with pytest.raises(RecordRefused, match=f"event {second.id}: a record of this id is saved already"):
        store.save([second, second])
    assert store.records(Event, SYSTEM) == (first,)


def test_a_known_id_is_skipped_when_asked(store: Store) -> None:
    """An import of the same rows adds nothing, and says how many were new."""
    records = one_of_each()
    assert store.save(records, specs_texts=TEXTS, known="skip") == len(records)
    assert store.save(records, specs_texts=TEXTS, known="skip") == 0
    note = make(Event, text="new")
    assert store.save([note, records[0], note], known="skip") == 1
    assert store.revisions(records[0].id, "moisture").height == 2


def test_known_ids_are_found_among_all_kinds(store: Store) -> None:
    """Unknown ones are left out."""
    records = one_of_each()
    store.save(records, specs_texts=TEXTS)
    ids = {record.id for record in records}
    assert store.known_ids([*ids, new_id()]) == ids
    assert store.known_ids([]) == frozenset()


def test_a_reference_has_to_be_there(store: Store) -> None:
    """Every missing one is named, and nothing of the save is kept."""
    batch = make(Batch, number=1, return_sand_kg=1.0, added_kg={}, recommendation=new_id())
    release = make(Release, recommendation=new_id(), added_kg={})
    with pytest.raises(RecordRefused) as refused:
        store.save([sample(), batch, release, make(Event, text="note")])
    assert len(refused.value.problems) == 3
    assert f"samples, specs_hash: {HASH} is not in specs; save it first, or together" in str(refused.value)
    assert f"batches, recommendation: {batch.recommendation} is not in recommendations" in str(refused.value)
    assert f"releases, recommendation: {release.recommendation} is not in recomm" in str(refused.value)
    assert store.records(Event, SYSTEM) == ()


def test_a_specs_text_belongs_to_its_hash(store: Store) -> None:
    """A wrong text would explain an old result wrongly for ever."""
    with pytest.raises(RecordRefused, match=f"specs {HASH}: the text does not have this SHA-256"):
        store.save([], specs_texts={HASH: TEXT + " "})
    assert store.specs_text(HASH) is None


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_a_finite_number_is_refused(store: Store, value: float) -> None:
    """Also when it got past the checks of a record: values, readings, kg and assays."""
    good = sample()
    bad_value = Result.model_construct(**dict(good.results[1]) | {"value": value})
    bad_reading = Reading.model_construct(name="wet", value=value, repeat=1)
    receipt = make(Receipt, material="bentonite", lot="1", kg=1.0)
    batch = make(Batch, number=1, return_sand_kg=1.0, added_kg={})
    for record, where in (
        (good.model_copy(update={"results": (bad_value,)}), "moisture"),
        (
            good.model_copy(
                update={"results": (good.results[0].model_copy(update={"readings": (bad_reading,)}),)}
            ),
            "compactability, wet",
        ),
        (receipt.model_copy(update={"kg": value}), "kg"),
        (receipt.model_copy(update={"assay": {"moisture": value}}), "assay, moisture"),
        (batch.model_copy(update={"added_kg": {"water": value}}), "water kg"),
    ):
        with pytest.raises(RecordRefused, match=f"^{where}: {value} is not a finite number; enter what was"):
            store.save([record], specs_texts=TEXTS)
    assert store.samples(SYSTEM) == ()
    assert store.records(Receipt, SYSTEM) == ()


def test_a_time_without_zone_is_refused(store: Store) -> None:
    """In a question as in a record."""
    naive = datetime(2026, 3, 2, 6, 0)  # noqa: DTZ001 - the point of the test
    with pytest.raises(InputError, match="has no time zone; give it one, UTC or the plant's"):
        store.results(SYSTEM, "moisture", since=naive)
    with pytest.raises(InputError, match="has no time zone"):
        store.save([make(Event, text="note").model_copy(update={"at": naive})])


def test_a_store_for_reading_takes_nothing(path: Path) -> None:
    """And neither makes a file nor changes one."""
    with pytest.raises(StoreError, match=f"{path}: does not exist; look at the path"):
        open_store(path, readonly=True)
    assert not path.exists()
    path.touch()
    with pytest.raises(StoreError, match="holds no records; open it for writing once"):
        open_store(path, readonly=True)
    open_store(path).close()
    store = open_store(path, readonly=True)
    with pytest.raises(StoreError, match="is open for reading only; open it for writing"):
        store.save([make(Event, text="note")])
    store.close()


def test_a_failing_save_leaves_nothing_and_harms_nothing(file_store: Store, path: Path) -> None:
    """An error in the middle of the rows takes the rows before it along."""
    raw = sqlite3.connect(path)
    raw.execute("CREATE TRIGGER trip BEFORE INSERT ON readings BEGIN SELECT RAISE(ABORT, 'tripped'); END")
    raw.close()
    with pytest.raises(RecordRefused, match="tripped"):
        file_store.save([sample()], specs_texts=TEXTS)
    assert file_store.samples(SYSTEM) == ()
    assert file_store.specs_text(HASH) is None
    file_store.save([sample(at=hours(1), results=())], specs_texts=TEXTS)
    assert len(file_store.samples(SYSTEM)) == 1


def test_a_long_save_tells_how_many_rows_are_written_and_can_be_broken_off(store: Store, place: str) -> None:
    """With the last row written, raising takes all back; by hand one sample, two results, three readings."""
    records = [sample(at=hours(count)) for count in range(2_000)]
    rows = 2_000 * (1 + 2 + 3)
    heard: list[tuple[str, int, int]] = []

    class BrokenOffError(Exception):
        pass

    def tell(what: str, done: int, of: int) -> None:
        heard.append((what, done, of))
        if (what, done) == ("saving rows", rows):
            raise BrokenOffError

    with pytest.raises(BrokenOffError):
        store.save(records, specs_texts=TEXTS, tell=tell)
    saving = [(done, of) for what, done, of in heard if what == "saving rows"]
    assert [of for _, of in saving] == [rows] * len(saving) and len(saving) >= 3
    assert saving == sorted(saving)
    assert ("preparing rows", 1_000, 2_000) in heard
    other = open_store(place)
    assert other.samples(SYSTEM) == () and other.specs_text(HASH) is None
    other.close()
    assert store.save(records, specs_texts=TEXTS) == 2_000


def test_a_save_finds_its_order_itself(store: Store) -> None:
    """Given backwards: a sample is amended, then replaced; that one amended twice, remarked on and voided."""
    first = sample()
    second = sample(revises=first.id, reason="wrong point")
    void = sample(results=(), revises=second.id, voided=True, reason="no sample at all")
    amended = [
        amendment(first, 3.4),
        amendment(second, 3.5),
        amendment(second, 3.6, revision=2),
    ]
    remark = make(Comment, sample=second.id, property="moisture", text="damp")
    given = [void, remark, *reversed(amended), second, first]
    assert store.save(given, specs_texts=TEXTS) == len(given)
    assert store.samples(SYSTEM) == ()
    assert store.revisions(second.id, "moisture")["value"].to_list() == [3.2, 3.5, 3.6]
