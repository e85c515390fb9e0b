"""Whole tables as frames, on both kinds of database."""

from __future__ import annotations

from sandlab.store import KINDS, Store
from tests.store.examples import SYSTEM, TEXTS, amendment, hours, one_of_each, sample


def test_a_table_has_every_row_of_its_kind(store: Store) -> None:
    """One record of each kind, one row in each table, in its period only."""
    store.save(one_of_each(), specs_texts=TEXTS)
    for name in KINDS:
        assert store.table(name, SYSTEM).height == 1, name
        assert store.table(name, "another").is_empty(), name
        assert store.table(name, SYSTEM, since=hours(1)).is_empty(), name


def test_replaced_values_are_in_it(store: Store) -> None:
    """Every revision, voids too, in the order of the key, with readings in the order of the form."""
    late, early = sample(at=hours(1)), sample(at=hours(0))
    store.save([late, early, amendment(early, None), amendment(late, 3.5)], specs_texts=TEXTS)
    results = store.table("results", SYSTEM)
    assert results.select("property", "taken_at", "revision", "value").rows() == [
        ("compactability", hours(0), 0, 41.0),
        ("compactability", hours(1), 0, 41.0),
        ("moisture", hours(0), 0, 3.2),
        ("moisture", hours(0), 1, None),
        ("moisture", hours(1), 0, 3.2),
        ("moisture", hours(1), 1, 3.5),
    ]
    readings = store.table("readings", SYSTEM).filter(sample=early.id)
    assert readings["position"].to_list() == [0, 1, 2]
