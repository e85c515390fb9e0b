"""Corrections, voids and late results: every value ever recorded stays, the last one counts."""

from __future__ import annotations

import pytest

from sandlab.errors import RecordRefused
from sandlab.records import Amendment, Baseline, Event, Reading, Result, Sample
from sandlab.store import Store
from tests.store.examples import HASH, SYSTEM, TEXTS, amendment, hours, make, new_id, sample


def values(store: Store, property: str = "moisture") -> list[float]:
    """The values in force."""
    return store.results(SYSTEM, property)["value"].to_list()


def test_a_correction_takes_the_place_of_the_value(store: Store) -> None:
    """With its own name, time and readings; the sample shows it as well."""
    taken = sample(3.2)
    store.save([taken], specs_texts=TEXTS)
    result = Result(
        property="moisture", value=3.6, method="oven", readings=(Reading(name="dry", value=48.2),)
    )
    correction = amendment(taken, None, result=result, by="B. Cole")
    store.save([correction])
    (row,) = store.results(SYSTEM, "moisture").iter_rows(named=True)
    assert (row["value"], row["revision"], row["by"]) == (3.6, 1, "B. Cole")
    assert row["known_at"] == correction.recorded_at
    assert store.readings(taken.id, "moisture") == result.readings
    assert store.readings(taken.id, "moisture", 0) == taken.results[1].readings
    back = store.sample(taken.id)
    assert back is not None
    assert back.results == (taken.results[0], correction.result)
    assert store.record(Amendment, correction.id) == correction
    assert store.records(Amendment, SYSTEM) == (correction,)


def test_every_revision_can_be_read(store: Store) -> None:
    """Oldest first, with who, when, why and the specs in force."""
    taken = sample(3.2)
    store.save([taken], specs_texts=TEXTS)
    store.save([amendment(taken, 3.6), amendment(taken, None, revision=2, by="C. Dale", reason="wrong sand")])
    frame = store.revisions(taken.id, "moisture")
    assert frame["revision"].to_list() == [0, 1, 2]
    assert frame["value"].to_list() == [3.2, 3.6, None]
    assert frame["by"].to_list() == ["A. Baker", "A. Baker", "C. Dale"]
    assert frame["reason"].to_list() == ["", "misread the balance", "wrong sand"]
    assert frame["method"].to_list() == ["oven", "", ""]
    assert frame["specs_hash"].to_list() == [HASH] * 3
    assert frame["recorded_at"].is_sorted()


def test_a_void_leaves_the_history(store: Store) -> None:
    """The other results of the sample stay; a later revision brings a value back."""
    taken = sample(3.2)
    store.save([taken, sample(3.0, at=hours(1))], specs_texts=TEXTS)
    store.save([amendment(taken, None)])
    assert values(store) == [3.0]
    assert values(store, "compactability") == [41.0, 41.0]
    back = store.sample(taken.id)
    assert back is not None
    assert [result.property for result in back.results] == ["compactability"]
    store.save([amendment(taken, 3.3, revision=2)])
    assert values(store) == [3.3, 3.0]


def test_a_late_result_is_revision_nought(store: Store) -> None:
    """A test that takes a day joins its sample without a correction."""
    taken = sample()
    store.save([taken], specs_texts=TEXTS)
    store.save([amendment(taken, 3.9, revision=0, property="loss_on_ignition", reason="")])
    assert values(store, "loss_on_ignition") == [3.9]
    back = store.sample(taken.id)
    assert back is not None
    assert [result.property for result in back.results] == ["compactability", "loss_on_ignition", "moisture"]


def test_last_counts_values_in_force(store: Store) -> None:
    """Corrected and void values take no place among the last ones."""
    taken = [sample(3.0 + hour / 10, at=hours(hour)) for hour in range(4)]
    store.save(taken, specs_texts=TEXTS)
    store.save([amendment(taken[3], None), amendment(taken[2], 4.2)])
    assert store.results(SYSTEM, "moisture", last=2)["value"].to_list() == [3.1, 4.2]
    assert store.newest(SYSTEM, "moisture", taken[2].point) == (4.2, hours(2), "")
    assert store.newest(SYSTEM, "moisture", "elsewhere") is None


def test_two_people_do_not_correct_one_value_unseen(store: Store) -> None:
    """The second is told who was first and what to do; the first correction stands."""
    taken = sample(3.2)
    store.save([taken], specs_texts=TEXTS)
    store.save([amendment(taken, 3.6, by="B. Cole")])
    with pytest.raises(RecordRefused) as refused:
        store.save([amendment(taken, 2.9, by="C. Dale")])
    assert str(refused.value) == (
        "moisture of the sample taken at 2026-03-02 06:00 UTC: "
        "B. Cole recorded revision 1 at 2026-03-02 06:05 UTC, not seen here; "
        "read the value again, then correct it as revision 2"
    )
    assert values(store) == [3.6]
    assert store.revisions(taken.id, "moisture").height == 2


def test_a_revision_does_not_leave_a_gap(store: Store) -> None:
    """Neither on a value that is there nor on one that is not."""
    taken = sample()
    store.save([taken], specs_texts=TEXTS)
    with pytest.raises(RecordRefused, match="revision 2 does not follow; the next one is 1"):
        store.save([amendment(taken, 3.6, revision=2)])
    with pytest.raises(RecordRefused, match="revision 1 does not follow; the next one is 0"):
        store.save([amendment(taken, 3.6, property="permeability")])


def test_an_amendment_fits_its_sample(store: Store) -> None:
    """Its time, point and system are the sample's, and the sample is there: all is said at once."""
    taken = sample()
    store.save([taken], specs_texts=TEXTS)
    elsewhere = amendment(taken, 3.6, at=hours(1))
    unknown = amendment(sample(), 3.6, revision=0)
    with pytest.raises(RecordRefused) as refused:
        store.save([elsewhere, unknown])
    text = str(refused.value)
    assert "the sample is of main, muller, 2026-03-02 06:00 UTC; give the amendment the system, point" in text
    assert f"amendments, sample: {unknown.sample} is not in samples; save it first, or together" in text
    assert store.revisions(taken.id, "moisture").height == 1


def test_a_sample_taken_at_the_wrong_point_is_replaced_whole(store: Store) -> None:
    """The old one and its results leave the history, and can still be read by its id."""
    old = sample(3.2)
    store.save([old], specs_texts=TEXTS)
    new = sample(3.2, point="return belt", revises=old.id, reason="wrong point")
    store.save([new])
    assert store.samples(SYSTEM) == (new,)
    assert store.records(Sample, SYSTEM, revised=True) == tuple(sorted((old, new), key=lambda one: one.id))
    assert store.results(SYSTEM, "moisture")["point"].to_list() == ["return belt"]
    assert store.results(SYSTEM, "moisture", point="muller").is_empty()
    assert store.sample(old.id) == old
    with pytest.raises(RecordRefused, match=r"replaced or voided by A. Baker at .*amend the one in force"):
        store.save([amendment(old, 3.3)])


def test_a_void_sample_is_gone_from_the_history(store: Store) -> None:
    """And takes no further results."""
    old = sample(3.2)
    void = sample(revises=old.id, voided=True, reason="never taken", results=())
    store.save([old, void], specs_texts=TEXTS)
    assert store.samples(SYSTEM) == ()
    assert values(store) == []
    with pytest.raises(RecordRefused, match="replaced or voided"):
        store.save([amendment(void, 3.3, revision=0)])


def test_other_records_are_revised_and_voided_alike(store: Store) -> None:
    """What a later record revises is left out unless asked for; a void leaves nothing."""
    note = make(Event, text="belt tron")
    store.save([note])
    better = make(Event, text="belt torn", revises=note.id, reason="typing", recorded_at=hours(1))
    store.save([better])
    assert store.records(Event, SYSTEM) == (better,)
    assert store.records(Event, SYSTEM, revised=True) == (note, better)
    assert store.record(Event, note.id) == note
    assert store.frame(Event, SYSTEM)["text"].to_list() == ["belt torn"]
    store.save([make(Event, text="belt torn", revises=better.id, reason="other plant", voided=True)])
    assert store.records(Event, SYSTEM) == ()
    assert len(store.records(Event, SYSTEM, revised=True)) == 3


def test_nobody_corrects_a_record_unseen(store: Store) -> None:
    """A record is revised once; the next correction names that revision."""
    note = make(Event, text="belt tron")
    store.save([note, make(Event, text="belt torn", revises=note.id, reason="typing", by="B. Cole")])
    late = make(Event, text="belt worn", revises=note.id, reason="typing")
    with pytest.raises(RecordRefused) as refused:
        store.save([late])
    assert str(refused.value) == (
        f"events {note.id}: was corrected already, by B. Cole at 2026-03-02 06:00 UTC; "
        "nothing was saved; read it again, then correct that one"
    )
    other = make(Event, text="stop")
    both = [make(Event, text=text, revises=other.id, reason="typing") for text in ("a", "b")]
    with pytest.raises(RecordRefused, match="is corrected twice in this save; keep one of the two"):
        store.save([other, *both])


def test_a_correction_names_a_record_of_its_kind(store: Store) -> None:
    """An id that is not there, or that is another kind of record, is refused."""
    nowhere = make(Event, text="note", revises=new_id(), reason="typing")
    with pytest.raises(RecordRefused, match=f"events, revises: {nowhere.revises} is not in events"):
        store.save([nowhere])
    assert store.records(Baseline, SYSTEM) == ()
