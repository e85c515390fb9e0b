"""A plant with one record of every kind, corrected, voided and late values among them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sandlab.lab.opening import Lab, open_lab
from sandlab.records import AnyRecord, Batch, Event, Receipt, Result, Sample
from sandlab.store import Store
from tests.store.examples import TEXTS, amendment, hours, make, one_of_each, sample

ODD_TEXT = '=1+1, "quoted"; semi\nsecond line  with ÆØÅ ł ✓ '


def odd_records() -> list[AnyRecord]:
    """What exports stumble over: voids, late values, bounds, odd texts, every digit, whole microseconds."""
    first, second, third = (
        sample(0.1 + 0.2, at=hours(count) + timedelta(microseconds=count)) for count in (3, 4, 5)
    )
    bound = make(
        Sample,
        at=hours(6),
        point="return_belt",
        specs_hash=first.specs_hash,
        note=ODD_TEXT,
        results=(Result(property="moisture", value=1.0 / 3.0, censored="<", flags=("a; b", 'c, "d"')),),
    )
    return [
        first,
        second,
        third,
        bound,
        amendment(first, None, reason="wrong sample"),
        amendment(second, 3.35),
        amendment(second, 3.45, revision=2, reason="again"),
        amendment(third, 8.1, revision=0, property="active_clay", reason=""),
        make(
            Sample,
            at=third.at,
            point="muller",
            specs_hash=first.specs_hash,
            revises=third.id,
            voided=True,
            reason="x",
        ),
        make(Batch, at=hours(2), number=8, return_sand_kg=1480.5, added_kg={"water": 0.0, "new_sand": 1e-9}),
        make(Batch, at=hours(2), number=9, return_sand_kg=1500.0, added_kg={}),
        make(Receipt, at=hours(1), material="carbon", lot="", kg=0.1 + 0.2, assay={}),
        make(Event, at=hours(3), kind="handover", text=ODD_TEXT),
    ]


def save(store: Store, records: Iterable[AnyRecord]) -> None:
    """As they happened: voids come after what they take back."""
    given = sorted(records, key=lambda one: one.voided)
    first = [one for one in given if not one.voided]
    store.save(first, specs_texts=TEXTS)
    store.save(given[len(first) :])


@pytest.fixture
def records() -> list[AnyRecord]:
    """One record of each kind, and the odd ones."""
    return [*one_of_each(), *odd_records()]


@pytest.fixture
def lab(tmp_path: Path, records: list[AnyRecord]) -> Iterator[Lab]:
    """A plant that holds them."""
    opened = open_lab(tmp_path / "plant", clock=lambda: datetime(2026, 3, 3, tzinfo=UTC))
    save(opened.store, records)
    yield opened
    opened.close()
