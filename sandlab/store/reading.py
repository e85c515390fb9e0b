"""Records as the models they were saved from."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, TypeVar

from sqlalchemy import Column, Connection, RowMapping, func, select

from sandlab.records import Amendment, Batch, Reading, Record, Sample
from sandlab.store import schema
from sandlab.store.in_force import last_revision, of_its_sample
from sandlab.store.rows import reading_of, record_of, result_of
from sandlab.store.saving import CHUNK
from sandlab.store.spans import Span, newest_first

R = TypeVar("R", bound=Record)


def records(
    connection: Connection, kind: type[R], system: str, span: Span, *, revised: bool
) -> tuple[R, ...]:
    """The records of one kind, oldest first; with `revised` also those replaced and the voids."""
    table = schema.TABLES[kind]
    query = newest_first(table, system, span, revised=revised)
    rows = connection.execute(query).mappings().all()[::-1]
    if kind is Sample:
        return tuple(_with_results(connection, rows))  # type: ignore[arg-type]
    if kind is Batch:
        materials = _materials(connection, [row["id"] for row in rows])
        return tuple(record_of(kind, row, added_kg=materials[row["id"]]) for row in rows)
    if kind is Amendment:
        return tuple(_amendment(connection, row) for row in rows)  # type: ignore[misc]
    return tuple(record_of(kind, row) for row in rows)


def record(connection: Connection, kind: type[R], id_: str) -> R | None:
    """One record by its id, whether or not a later one revises it; a sample with its results in force."""
    table = schema.TABLES[kind]
    row = connection.execute(select(table).where(table.c.id == id_)).mappings().first()
    if row is None:
        return None
    if kind is Sample:
        return next(_with_results(connection, [row]))  # type: ignore[return-value]
    if kind is Amendment:
        return _amendment(connection, row)  # type: ignore[return-value]
    return record_of(kind, row, **({"added_kg": _materials(connection, [id_])[id_]} if kind is Batch else {}))


def readings(
    connection: Connection, sample: str, property_: str, revision: int | None
) -> tuple[Reading, ...]:
    """The raw readings behind a value: those of one revision, or of the last one."""
    column = schema.readings.c
    if revision is None:
        last = select(func.max(schema.results.c.revision)).where(
            of_its_sample(), schema.samples.c.id == sample, schema.results.c.property == property_
        )
        revision = connection.execute(last).scalar()
    query = select(schema.readings).where(
        column.sample == sample, column.property == property_, column.revision == revision
    )
    rows = connection.execute(query.order_by(column.position)).mappings()
    return tuple(reading_of(row) for row in rows)


def readings_of(
    connection: Connection, property_: str, revisions: Mapping[str, int]
) -> dict[str, tuple[Reading, ...]]:
    """The raw readings behind one property of many samples, by sample; those without any are left out."""
    column, found = schema.readings.c, defaultdict(list)
    for row in _of_all(connection, schema.readings, column.sample, list(revisions)):
        if row["property"] == property_ and row["revision"] == revisions[row["sample"]]:
            found[row["sample"]].append(reading_of(row))
    return {sample: tuple(rows) for sample, rows in found.items()}


def _amendment(connection: Connection, row: RowMapping) -> Amendment:
    column = schema.results.c
    query = select(schema.results).where(
        column.system == row["system"],
        column.property == row["property"],
        column.taken_at == row["at"],
        column.sample == row["sample"],
        column.revision == row["revision"],
    )
    value = connection.execute(query).mappings().one()
    found = readings(connection, row["sample"], row["property"], row["revision"])
    return record_of(Amendment, row, result=result_of(value, found))


def _with_results(connection: Connection, rows: Sequence[RowMapping]) -> Iterator[Sample]:
    """Samples with the results in force, sorted by property."""
    if not rows:
        return
    system, times = rows[0]["system"], [row["at"] for row in rows]
    ids = [row["id"] for row in rows]
    behind = defaultdict(list)
    for reading in _of_all(connection, schema.readings, schema.readings.c.sample, ids):
        behind[reading["sample"], reading["property"], reading["revision"]].append(reading_of(reading))
    results = defaultdict(list)
    # The key of a result has its property before its time: naming the properties keeps this a search.
    column = schema.results.c
    query = select(schema.results).where(
        column.system == system,
        column.property.in_(properties_of(connection, system)),
        column.taken_at.between(min(times), max(times)),
        column.value.is_not(None),
        last_revision(),
    )
    for row in connection.execute(query).mappings():
        key = row["sample"], row["property"], row["revision"]
        results[row["sample"]].append(result_of(row, tuple(behind[key])))
    for row in rows:
        found = sorted(results[row["id"]], key=lambda result: result.property)
        yield record_of(Sample, row, results=tuple(found))


def properties_of(connection: Connection, system: str) -> list[str]:
    """The properties that a system has results of: from one to the next along the key, without a scan."""
    column = schema.results.c
    first = select(func.min(column.property).label("property")).where(column.system == system)
    steps = first.cte(recursive=True)
    next_ = select(func.min(column.property)).where(
        column.system == system, column.property > steps.c.property
    )
    steps = steps.union_all(select(next_.scalar_subquery()).where(steps.c.property.is_not(None)))
    return [name for name in connection.execute(select(steps.c.property)).scalars() if name is not None]


def _materials(connection: Connection, ids: Sequence[str]) -> dict[str, dict[str, float]]:
    kg: dict[str, dict[str, float]] = {id_: {} for id_ in ids}
    for row in _of_all(connection, schema.batch_materials, schema.batch_materials.c.batch, ids):
        kg[row["batch"]][row["material"]] = row["kg"]
    return kg


def _of_all(
    connection: Connection, table: Any, column: Column[Any], ids: Sequence[str]
) -> Iterable[RowMapping]:
    """The rows of a table that belong to some ids, in the order of its key."""
    for start in range(0, len(ids), CHUNK):
        query = select(table).where(column.in_(ids[start : start + CHUNK])).order_by(*table.primary_key)
        yield from connection.execute(query).mappings()
