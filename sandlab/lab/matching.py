"""An import beside what is recorded: what is new, what is known, and what contradicts a record."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC
from typing import Any

import polars as pl

from sandlab.exchange import BookRecord, ImportPlan, RowNote, content_of, key_of, sample_id
from sandlab.lab.opening import Lab
from sandlab.lab.showing import MOST_FINER, clock_text, text_of
from sandlab.records import AnyRecord, Batch, Production, Receipt, Sample

SEE = "see which is right, and correct the record in the tool if it is the wrong one"
_EQUAL = 1e-9


@dataclass(frozen=True, slots=True)
class Matched:
    """What of a plan is new; `known` counts what is recorded already, word for word."""

    samples: tuple[Sample, ...]
    records: tuple[AnyRecord, ...]
    known: int
    conflicts: tuple[RowNote, ...]


def matched(lab: Lab, plan: ImportPlan) -> Matched:
    """Compare a plan with the store; a value that is recorded otherwise is left out and told."""
    known = lab.store.known_ids((one.id for one in plan.samples), kinds=(Sample,))
    if plan.records:
        booked = (one.id for one in plan.records)
        known |= lab.store.known_ids(booked, kinds=(Batch, Production, Receipt))
    fresh = [one for one in plan.samples if one.id not in known]
    differing, equal = _compared(lab, fresh)
    conflicts = [_note(lab, plan, row) for row in differing]
    dropped: dict[str, set[str]] = defaultdict(set)
    for row in (*differing, *equal):
        dropped[row["id"]].add(row["property"])
    samples = [_without(one, dropped[one.id]) if one.id in dropped else one for one in fresh]
    kept = tuple(one for one in samples if one.results)
    records, other_known, more = _books(lab, plan, known)
    untouched = len(plan.samples) - len(fresh) + len(fresh) - len(kept)
    told = tuple(sorted((*conflicts, *more), key=lambda note: (note.sheet, note.row, note.column)))
    return Matched(kept, records, untouched + other_known, told)


def _without(sample: Sample, properties: set[str]) -> Sample:
    results = tuple(one for one in sample.results if one.property not in properties)
    id = sample_id(sample.system, sample.point, sample.at, results)
    return sample.model_copy(update={"id": id, "results": results})


def _compared(lab: Lab, samples: list[Sample]) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """The results for whose point, time and property another value is recorded, and those with the same."""
    if not samples:
        return [], []
    rows = [
        (one.id, one.point, one.at, result.property, result.value, result.censored)
        for one in samples
        for result in one.results
    ]
    at = pl.Datetime("us", "UTC")
    schema: dict[str, pl.DataType] = {"id": pl.String(), "point": pl.String(), "taken_at": at} | {
        "property": pl.String(),
        "new": pl.Float64(),
        "new_censored": pl.String(),
    }
    mine = pl.DataFrame(rows, schema=schema, orient="row")
    properties = mine["property"].unique().sort().to_list()
    first, last = samples[0].at, samples[-1].at
    recorded = lab.store.results_of(samples[0].system, properties, since=first, until=last)
    both = mine.join(
        recorded.with_columns(pl.col("taken_at").cast(at)), on=["point", "taken_at", "property"], how="inner"
    )
    close = (pl.col("new") - pl.col("value")).abs() <= _EQUAL * pl.col("new").abs() + _EQUAL
    same = (close & (pl.col("new_censored") == pl.col("censored"))).fill_null(False)
    judged = both.with_columns(same.alias("same"))
    alike = judged.filter("same").unique(["id", "property"])
    other = judged.filter(~pl.col("same")).unique(["id", "property"], maintain_order=True)
    return other.join(alike, on=["id", "property"], how="anti").to_dicts(), alike.to_dicts()


def _note(lab: Lab, plan: ImportPlan, row: dict[str, Any]) -> RowNote:
    sheet, number = plan.places.get(row["id"], (plan.file, 0))
    label = lab.specs.properties[row["property"]].label
    each = (row["new"], row["new_censored"]), (row["value"], row["censored"])
    new, old = told_apart(lab, row["property"], *each)
    when = clock_text(row["taken_at"].astimezone(UTC), lab.zone, lab.now())
    recorded = f"{old} is recorded" if row["value"] is not None else "the value was taken back"
    what = f"{label} at {when}: {recorded} ({row['by']}), the file says {new}; it is left out"
    return RowNote(sheet, number, "", new, what, SEE, "conflict")


def told_apart(
    lab: Lab, key: str, new: tuple[float | None, str], old: tuple[float | None, str]
) -> tuple[str, str]:
    """Both values with the decimals in which they differ: no "41 is recorded, the file says 41"."""
    shown, recorded = "", ""
    for finer in range(MOST_FINER):
        shown, recorded = (
            text_of(lab.specs, key, value, censored=censored or "", finer=finer)
            for value, censored in (new, old)
        )
        if shown != recorded:
            break
    return shown, recorded


def _books(
    lab: Lab, plan: ImportPlan, known: frozenset[str]
) -> tuple[tuple[BookRecord, ...], int, list[RowNote]]:
    """Batches, production and receipts: new ones, how many are recorded already, and contradictions."""
    new: list[BookRecord] = []
    conflicts: list[RowNote] = []
    kinds: tuple[type[BookRecord], ...] = (Batch, Production, Receipt)
    for kind in kinds:
        mine = [one for one in plan.records if isinstance(one, kind) and one.id not in known]
        if not mine:
            continue
        stored: tuple[BookRecord, ...] = lab.store.records(
            kind, mine[0].system, since=mine[0].at, until=mine[-1].at
        )
        recorded = {key_of(one): one for one in stored}
        for one in mine:
            other = recorded.get(key_of(one))
            if other is None:
                new.append(one)
            elif content_of(one) != content_of(other):
                conflicts.append(_book_note(lab, plan, one, other))
    left = len(plan.records) - len(new) - len(conflicts)
    return tuple(new), left, conflicts


def _book_note(lab: Lab, plan: ImportPlan, one: BookRecord, other: BookRecord) -> RowNote:
    sheet, number = plan.places.get(one.id, (plan.file, 0))
    mine, theirs = content_of(one), other.model_dump()
    differing = ", ".join(
        f"{name} {theirs[name]} is recorded, not {mine[name]}" for name in mine if mine[name] != theirs[name]
    )
    when = clock_text(one.at, lab.zone, lab.now())
    what = f"{type(one).__name__} of {when}: {differing} ({other.by}); it is left out"
    return RowNote(sheet, number, "", "", what, SEE, "conflict")
