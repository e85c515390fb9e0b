"""History as frames: what a chart or a balance reads."""

from __future__ import annotations

from datetime import timedelta

import polars as pl
import pytest

from sandlab.records import Result
from sandlab.store import Store
from tests.store.examples import SIX, SYSTEM, TEXTS, amendment, hours, sample

COLUMNS = {
    "taken_at": pl.Datetime("us", "UTC"),
    "value": pl.Float64,
    "sample": pl.String,
    "point": pl.String,
    "method": pl.String,
    "censored": pl.String,
    "flags": pl.List(pl.String),
    "revision": pl.Int64,
    "by": pl.String,
    "known_at": pl.Datetime("us", "UTC"),
}


def test_columns_are_the_same_with_and_without_rows(store: Store) -> None:
    """A caller need not ask whether anything is there."""
    assert store.results(SYSTEM, "moisture").schema == COLUMNS
    assert store.results_of(SYSTEM, ()).schema == {"property": pl.String} | COLUMNS
    store.save([sample()], specs_texts=TEXTS)
    assert store.results(SYSTEM, "moisture").schema == COLUMNS
    assert store.results_of(SYSTEM, ("moisture",)).schema == {"property": pl.String} | COLUMNS


def test_a_row_says_all_about_its_value(store: Store) -> None:
    """How it was obtained, any doubt, who knew it when."""
    censored = Result(property="moisture", value=0.5, censored="<")
    taken = sample(results=(sample().results[0], censored))
    store.save([taken], specs_texts=TEXTS)
    (row,) = store.results(SYSTEM, "compactability").iter_rows(named=True)
    assert row == {
        "taken_at": SIX,
        "value": 41.0,
        "sample": taken.id,
        "point": "muller",
        "method": "",
        "censored": "",
        "flags": ["last specimen cracked", "see note"],
        "revision": 0,
        "by": "A. Baker",
        "known_at": SIX,
    }
    (row,) = store.results(SYSTEM, "moisture").iter_rows(named=True)
    assert (row["censored"], row["flags"]) == ("<", [])


def test_history_is_sorted_by_time_whatever_the_order_of_saving(store: Store) -> None:
    """Samples of one moment by their id."""
    taken = [sample(hour, at=hours(hour % 5)) for hour in (7, 3, 5, 1, 9, 6)]
    for one in taken:
        store.save([one], specs_texts=TEXTS)
    frame = store.results(SYSTEM, "moisture")
    expected = sorted((one.at, one.id) for one in taken)
    assert frame.select("taken_at", "sample").rows() == expected


def test_history_can_be_narrowed(store: Store) -> None:
    """By time with both ends included, by point, and to the last ones of what is left."""
    taken = [
        sample(hour, at=hours(hour), point="muller" if hour % 2 else "return belt") for hour in range(1, 7)
    ]
    store.save(taken, specs_texts=TEXTS)
    store.save([sample(99.0, at=hours(3), system="other")])

    def values(**narrowed: object) -> list[float]:
        return store.results(SYSTEM, "moisture", **narrowed)["value"].to_list()  # type: ignore[arg-type]

    assert values(since=hours(5)) == [5.0, 6.0]
    assert values(until=hours(2)) == [1.0, 2.0]
    assert values(since=hours(2), until=hours(2)) == [2.0]
    assert values(point="muller") == [1.0, 3.0, 5.0]
    assert values(point="muller", last=2) == [3.0, 5.0]
    assert values(until=hours(4), last=1) == [4.0]
    assert values(last=0) == []


def test_several_properties_come_in_one_frame(store: Store) -> None:
    """Sorted by time; the last ones are counted for each property; naming one twice changes nothing."""
    store.save([sample(hour, at=hours(hour)) for hour in range(1, 4)], specs_texts=TEXTS)
    frame = store.results_of(SYSTEM, ("moisture", "compactability", "moisture", "permeability"), last=2)
    assert frame.select("property", "taken_at").rows() == [
        (name, hours(hour)) for hour in (2, 3) for name in ("compactability", "moisture")
    ]


@pytest.mark.parametrize("count", [400])
def test_a_simulated_history_with_corrections_agrees_with_a_model_in_plain_python(
    store: Store, count: int
) -> None:
    """Every third value corrected, every fifth void, in one save."""
    taken = [sample(1.0 + hour / 1000, at=SIX + timedelta(minutes=hour)) for hour in range(count)]
    expected = {one.id: one.results[1].value for one in taken}
    amendments = []
    for index, one in enumerate(taken):
        revision = 0
        if index % 3 == 0:
            revision += 1
            amendments.append(amendment(one, 5.0 + index, revision=revision))
            expected[one.id] = 5.0 + index
        if index % 5 == 0:
            amendments.append(amendment(one, None, revision=revision + 1))
            del expected[one.id]
    store.save([*taken, *amendments], specs_texts=TEXTS)
    frame = store.results(SYSTEM, "moisture")
    assert dict(frame.select("sample", "value").iter_rows()) == expected
    in_samples = {
        one.id: result.value
        for one in store.samples(SYSTEM)
        for result in one.results
        if result.property == "moisture"
    }
    assert in_samples == expected
