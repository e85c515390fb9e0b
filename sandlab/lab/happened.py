"""What happened at the plant as the balance is told it: the store's records as events, as they became known.

The stream is a function of the records alone: whoever saved what first, the same records give the same events
in the same order, so every terminal arrives at the same estimate.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from itertools import groupby

import polars as pl

from sandlab import schedule
from sandlab.balance import COMPONENTS
from sandlab.balance.stream import (
    LAB_NOISE,
    BatchMade,
    Event,
    FeederWeighed,
    ProbeReading,
    Production,
    Receipt,
    ResultKnown,
    StockCounted,
)
from sandlab.lab.judging import stored_state
from sandlab.lab.opening import Lab
from sandlab.records import Batch, BeltReading, FeederCheck, StockCount
from sandlab.records import Production as Poured
from sandlab.records import Receipt as Delivery
from sandlab.store.rows import microseconds

Told = tuple[int, int, int, str, Event]
# Of what became known in the same moment, what was poured and delivered comes before batches and results.
ORDER = (Production, Receipt, StockCounted, FeederWeighed, ProbeReading, BatchMade, ResultKnown)
EARLIER = 60  # receipts before the window that tell what the feeders hold


def happened(
    lab: Lab, *, since: datetime, until: datetime, progress: Callable[[float], None] = lambda share: None
) -> tuple[Event, ...]:
    """Production, receipts, batches and results of the sand from `since` on, as known at `until`.

    A corrected result stands with the value in force at `until`, known when it was corrected; a void is left
    out. Receipts before `since` count from `since` on, so that the feeders hold their present lots.
    What `progress` raises ends the work.
    """
    told: list[Told] = []
    for source in (_produced, _received, _seen, _made, _tested):
        for one in source(lab, since, until):
            told.append(one)
            if len(told) % 200 == 0:
                progress(0.0)
    return tuple(one[-1] for one in sorted(told, key=lambda one: one[:-1]))


def _told(known_us: int, at_us: int, event: Event) -> Told:
    return known_us, at_us, ORDER.index(type(event)), repr(event), event


def _produced(lab: Lab, since: datetime, until: datetime) -> Iterator[Told]:
    for one in lab.store.records(Poured, lab.system, since=since - timedelta(days=1), until=until):
        if one.until < since or one.recorded_at > until:
            continue
        event = Production(
            one.at_us, microseconds(one.until), one.job, one.metal_t, one.sand_to_metal, one.core_sand_t
        )
        yield _told(microseconds(one.recorded_at), one.at_us, event)


def _received(lab: Lab, since: datetime, until: datetime) -> Iterator[Told]:
    fed = {feeder.material for feeder in lab.sand.feeders.values()}
    records = lab.store.records(Delivery, lab.system, until=since, last=EARLIER)
    records += lab.store.records(Delivery, lab.system, since=since, until=until)
    for one in {record.id: record for record in records}.values():
        if one.material not in fed or one.recorded_at > until:
            continue
        assay = {name: value for name, value in one.assay.items() if name in COMPONENTS}
        event = Receipt(one.at_us, one.material, one.lot, assay, one.assay.get("moisture"), one.kg)
        yield _told(microseconds(one.recorded_at), one.at_us, event)


def _seen(lab: Lab, since: datetime, until: datetime) -> Iterator[Told]:
    """Belt probes, silos counted, feeders weighed out."""
    materials = {feeder.material for feeder in lab.sand.feeders.values()}
    for reading in lab.store.records(BeltReading, lab.system, since=since, until=until):
        event = ProbeReading(reading.at_us, reading.moisture, reading.temperature)
        yield _told(microseconds(reading.recorded_at), reading.at_us, event)
    for count in lab.store.records(StockCount, lab.system, since=since, until=until):
        if count.material in materials:
            counted = StockCounted(count.at_us, count.material, count.kg)
            yield _told(microseconds(count.recorded_at), count.at_us, counted)
    for check in lab.store.records(FeederCheck, lab.system, since=since, until=until):
        if check.feeder in lab.sand.feeders:
            weighed = FeederWeighed(check.at_us, check.feeder, check.shown_kg, check.weighed_kg)
            yield _told(microseconds(check.recorded_at), check.at_us, weighed)


def _made(lab: Lab, since: datetime, until: datetime) -> Iterator[Told]:
    """Batches as logged; a frame of them is read many times quicker than as many records."""
    frame = lab.store.frame(Batch, lab.system, since=since, until=until).filter(
        pl.col("recorded_at") <= until
    )
    columns = ("id", "at", "recorded_at", "return_sand_kg", "material", "kg")
    rows = frame.select(columns).with_columns(
        pl.col("at").dt.epoch("us"), pl.col("recorded_at").dt.epoch("us")
    )
    for _, of_one in groupby(rows.iter_rows(), key=lambda row: row[0]):
        parts = list(of_one)
        _, at_us, known_us, moist, _, _ = parts[0]
        added = {name: kg for *_, name, kg in parts if name in lab.sand.feeders}
        yield _told(known_us, at_us, BatchMade(at_us, added, moist or None))


def _tested(lab: Lab, since: datetime, until: datetime) -> Iterator[Told]:
    """Results that the balance uses; those worked out from other results are not told twice."""
    derived = {key for key, method in lab.specs.methods.items() if method.derived_from}
    for key in (name for name in LAB_NOISE if name in lab.specs.properties):
        point = schedule.home_point(lab.sand, key)
        frame = lab.store.results(lab.system, key, point=point, since=since, until=until)
        columns = ("sample", "taken_at", "value", "known_at", "revision", "censored", "method")
        for sample, taken, value, known, revision, censored, method in frame.select(columns).iter_rows():
            if censored or method in derived:
                continue
            at, seen = value, known
            if known > until:
                before = _before_correction(lab, sample, key, until) if revision else None
                if before is None:
                    continue
                at, seen = before
            doubtful = stored_state(lab, key, at) == "doubtful"
            taken_us = microseconds(taken)
            event = ResultKnown(key, at, taken_us, max(microseconds(seen), taken_us), doubtful)
            yield _told(event.known_us, event.taken_us, event)


def _before_correction(lab: Lab, sample: str, key: str, until: datetime) -> tuple[float, datetime] | None:
    """The value that was in force before a correction that came later than `until`, and when it was known."""
    frame = lab.store.revisions(sample, key).select("value", "recorded_at")
    found = [(value, at) for value, at in frame.iter_rows() if at <= until]
    return found[-1] if found and found[-1][0] is not None else None
