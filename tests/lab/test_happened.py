"""From the store to the balance: what happened, in the order it became known, whoever saved what first."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from sandlab.balance.stream import (
    BatchMade,
    FeederWeighed,
    ProbeReading,
    Production,
    Receipt,
    ResultKnown,
    StockCounted,
)
from sandlab.lab import plant_log
from sandlab.lab.advising import advise
from sandlab.lab.happened import happened
from sandlab.lab.opening import Lab, open_lab
from sandlab.records import Amendment, AnyRecord, Batch, Result, Sample
from tests.lab.conftest import MONDAY, Clock, Ids

START = MONDAY - timedelta(hours=8)
KG = {"water": 28.0, "bentonite": 10.5, "carbon": 10.0, "new_sand": 20.0}


def hours(count: float) -> datetime:
    """A time so many hours after the start."""
    return START + timedelta(hours=count)


def shift(ids: Ids, specs_hash: str) -> list[AnyRecord]:
    """Eight hours: batches, hourly samples, clay and volatiles told later, one of them corrected."""
    records: list[AnyRecord] = []
    for number in range(160):
        at = START + number * timedelta(minutes=3)
        records.append(
            Batch(
                id=ids(), system="main", at=at, by="AK", recorded_at=at, number=number, return_sand_kg=1500.0,
                added_kg=KG,
            )
        )  # fmt: skip
    for hour in range(8):
        at = hours(hour + 0.05)
        known = at + timedelta(minutes=5)
        results = (
            Result(property="compactability", value=41.0 + hour % 3, known_at=known),
            Result(property="moisture", value=3.3, known_at=known),
        )
        sample = Sample(
            id=ids(), system="main", at=at, by="JV", recorded_at=known, point="muller_discharge",
            specs_hash=specs_hash, results=results,
        )  # fmt: skip
        records.append(sample)
        records.append(later(ids, sample, "active_clay", 8.05 + 0.01 * hour, at + timedelta(hours=1)))
        if hour == 2:
            records.append(later(ids, sample, "volatiles", 1.9, at + timedelta(hours=2)))
            records.append(later(ids, sample, "volatiles", 1.3, at + timedelta(hours=4), revision=1))
    return records


def later(
    ids: Ids, sample: Sample, name: str, value: float | None, at: datetime, *, revision: int = 0
) -> Amendment:
    """A result told later, or corrected."""
    return Amendment(
        id=ids(), system="main", at=sample.at, by="JV", recorded_at=at, sample=sample.id, point=sample.point,
        reason="read the wrong line" if revision else "", revision=revision, specs_hash=sample.specs_hash,
        result=Result(property=name, value=value),
    )  # fmt: skip


def filled(folder: Path, order: random.Random | None) -> Lab:
    """A plant with the shift saved record by record, in the order of time or in another."""
    lab = open_lab(folder, clock=Clock(), new_id=Ids(count=5000))
    records = shift(Ids(), lab.specs.hash)
    first: Sequence[AnyRecord] = [one for one in records if not isinstance(one, Amendment)]
    rest = [one for one in records if isinstance(one, Amendment)]
    if order is not None:
        first = order.sample(first, len(first))
        rest = sorted(order.sample(rest, len(rest)), key=lambda one: one.revision)
    lab.store.save(first, specs_texts={lab.specs.hash: lab.specs.canonical_text})
    for one in rest:
        lab.store.save([one])
    return lab


@pytest.fixture
def orders(tmp_path: Path) -> Iterator[tuple[Lab, Lab]]:
    """Two plants with the same records, saved in two orders."""
    labs = filled(tmp_path / "in_order", None), filled(tmp_path / "shuffled", random.Random(4))
    yield labs
    for one in labs:
        one.close()


def test_the_same_records_give_the_same_events_and_advice(orders: tuple[Lab, Lab]) -> None:
    """Late results saved in two orders on two terminals: the same stream, kilograms and sentences."""
    one, other = orders
    assert happened(one, since=START, until=MONDAY) == happened(other, since=START, until=MONDAY)
    first, second = advise(one, by="JV"), advise(other, by="SK")
    assert first.additions == second.additions
    assert (first.sentence, first.reasons, first.expected) == (
        second.sentence,
        second.reasons,
        second.expected,
    )
    assert first.evidence == second.evidence


def test_events_come_in_the_order_in_which_they_became_known(orders: tuple[Lab, Lab]) -> None:
    """A clay result of an hour ago stands behind the batches made meanwhile."""
    events = happened(orders[0], since=START, until=MONDAY)
    known = [one.known_us if isinstance(one, ResultKnown) else one.at_us for one in events]
    assert known == sorted(known)
    assert sum(isinstance(one, BatchMade) for one in events) == 160
    clay = next(place for place, one in enumerate(events) if getattr(one, "property", "") == "active_clay")
    assert sum(isinstance(one, BatchMade) for one in events[:clay]) == 21


def test_a_correction_counts_from_when_it_was_made(orders: tuple[Lab, Lab]) -> None:
    """Before the correction the stream holds the first value, afterwards the corrected one alone."""
    lab = orders[0]

    def volatiles(until: datetime) -> list[tuple[float, int]]:
        events = happened(lab, since=START, until=until)
        found = [one for one in events if isinstance(one, ResultKnown) and one.property == "volatiles"]
        return [(one.value, one.known_us) for one in found]

    assert volatiles(hours(4.0)) == []
    ((before, known),) = volatiles(hours(5.0))
    ((after, corrected),) = volatiles(hours(7.0))
    assert (before, after) == (1.9, 1.3)
    assert corrected - known == 2 * 3_600_000_000


def test_a_void_is_left_out(orders: tuple[Lab, Lab]) -> None:
    """A result that was taken back is no event."""
    lab = orders[0]
    sample = lab.store.samples("main")[2]
    lab.store.save([later(Ids(count=9000), sample, "volatiles", None, hours(7.9), revision=2)])
    events = happened(lab, since=START, until=MONDAY)
    assert not [one for one in events if isinstance(one, ResultKnown) and one.property == "volatiles"]


def test_everything_that_is_written_down_becomes_an_event(lab: Lab, clock: Clock) -> None:
    """Jobs, deliveries, probes, silos and feeders: each with its own time and figures."""
    plant_log.log_production(
        lab, job="gully grate", start=hours(0), until=hours(8), metal_t=30.0, sand_to_metal=7.2,
        core_sand_t=1.0, by="HL",
    )  # fmt: skip
    plant_log.log_receipt(
        lab, material="bentonite", lot="VK-1", kg=24_000.0, assay={"active_clay": 88.0}, moisture=9.0, by="PR"
    )
    plant_log.log_probe(lab, moisture=2.1, temperature=37.0, by="PR")
    plant_log.count_stock(lab, material="carbon", kg=9_000.0, by="PR")
    plant_log.weigh_feeder(lab, feeder="bentonite", shown_kg=50.0, weighed_kg=49.0, by="PR")
    events = {type(one): one for one in happened(lab, since=START, until=MONDAY)}
    assert set(events) == {Production, Receipt, ProbeReading, StockCounted, FeederWeighed}
    receipt = events[Receipt]
    assert isinstance(receipt, Receipt)
    assert (dict(receipt.assay), receipt.moisture) == ({"active_clay": 88.0}, 9.0)


def test_a_lot_received_before_the_window_is_still_what_the_feeder_holds(lab: Lab, clock: Clock) -> None:
    """The last lot counts however long ago it came."""
    clock.now = MONDAY - timedelta(days=40)
    plant_log.log_receipt(lab, material="bentonite", lot="A", kg=1.0, assay={"active_clay": 90.0}, by="PR")
    clock.now = MONDAY
    (event,) = happened(lab, since=START, until=MONDAY)
    assert isinstance(event, Receipt) and event.lot == "A"
