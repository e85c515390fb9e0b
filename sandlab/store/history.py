"""History as polars frames sorted by time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import polars as pl
from sqlalchemy import Column, ColumnElement, Connection, Select, Table, and_, exists, func, select, union_all

from sandlab.records import Batch, Record
from sandlab.store import schema
from sandlab.store.spans import Span, in_force

UTC_TIME = pl.Datetime("us", "UTC")

RESULT_COLUMNS = {
    "property": pl.String(),
    "taken_at": UTC_TIME,
    "value": pl.Float64(),
    "sample": pl.String(),
    "point": pl.String(),
    "method": pl.String(),
    "censored": pl.String(),
    "flags": pl.List(pl.String()),
    "revision": pl.Int64(),
    "by": pl.String(),
    "known_at": UTC_TIME,
}
REVISION_COLUMNS = {
    "revision": pl.Int64(),
    "value": pl.Float64(),
    "method": pl.String(),
    "censored": pl.String(),
    "by": pl.String(),
    "recorded_at": UTC_TIME,
    "reason": pl.String(),
    "specs_hash": pl.String(),
}


def results(
    connection: Connection, system: str, properties: Sequence[str], span: Span, point: str | None
) -> pl.DataFrame:
    """The value in force of every result of some properties, in one query."""
    if not properties:
        return pl.DataFrame(schema=RESULT_COLUMNS)
    queries = [
        _in_force(system, property_, span, point).subquery() for property_ in dict.fromkeys(properties)
    ]
    query = union_all(*(select(*each.c) for each in queries))
    return _frame(connection, query, RESULT_COLUMNS).sort("taken_at", "sample", "property")


def revisions(connection: Connection, sample: str, property_: str) -> pl.DataFrame:
    """Every value that one property of a sample has had, oldest first; a void has none."""
    of_sample, amended, rows = schema.samples.c, schema.amendments.c, schema.results.c
    amendment = and_(
        amended.sample == rows.sample, amended.property == rows.property, amended.revision == rows.revision
    )
    query = (
        select(
            rows.revision,
            rows.value,
            rows.method,
            rows.censored,
            rows.by,
            rows.recorded_at,
            func.coalesce(amended.reason, ""),
            func.coalesce(amended.specs_hash, of_sample.specs_hash),
        )
        .join_from(schema.samples, schema.results, of_result(schema.samples, schema.results))
        .outerjoin(schema.amendments, amendment)
        .where(of_sample.id == sample, rows.property == property_)
        .order_by(rows.revision)
    )
    return _frame(connection, query, REVISION_COLUMNS)


def of_result(samples: Table, results: Table) -> Any:
    """The condition that finds the results of a sample by their key."""
    return and_(
        results.c.system == samples.c.system,
        results.c.taken_at == samples.c.at,
        results.c.sample == samples.c.id,
    )


def records(connection: Connection, kind: type[Record], system: str, span: Span) -> pl.DataFrame:
    """The records of one kind in force; batches have a row for every material added."""
    table = schema.TABLES[kind]
    query = select(table).where(table.c.system == system, *span.within(table.c.at), *in_force(table))
    newest = query.order_by(table.c.at.desc(), table.c.recorded_at.desc(), table.c.id.desc()).limit(span.last)
    columns = {column.name: _type(column) for column in table.columns}
    order = ["at", "recorded_at", "id"]
    if kind is not Batch:
        return _frame(connection, newest, columns).sort(order)
    each, materials = newest.subquery(), schema.batch_materials
    long = select(*each.c, materials.c.material, materials.c.kg).outerjoin_from(
        each, materials, materials.c.batch == each.c.id
    )
    columns |= {"material": pl.String(), "kg": pl.Float64()}
    return _frame(connection, long, columns).sort([*order, "material"])


def last_revision() -> ColumnElement[bool]:
    """The condition that a row of `results` is not corrected by a later one."""
    one, later = schema.results.c, schema.results.alias("later").c
    return ~exists().where(
        later.system == one.system,
        later.property == one.property,
        later.taken_at == one.taken_at,
        later.sample == one.sample,
        later.revision == one.revision + 1,
    )


def _in_force(system: str, property_: str, span: Span, point: str | None) -> Select[Any]:
    one = schema.results.c
    replaced = select(schema.samples.c.revises).where(schema.samples.c.revises.is_not(None))
    known_at = func.coalesce(one.known_at, one.recorded_at).label("known_at")
    names = [name for name in RESULT_COLUMNS if name != "known_at"]
    query = select(*(one[name] for name in names), known_at).where(
        one.system == system,
        one.property == property_,
        one.value.is_not(None),
        *span.within(one.taken_at),
        last_revision(),
        one.sample.not_in(replaced),
    )
    if point is not None:
        query = query.where(one.point == point)
    return query.order_by(one.taken_at.desc(), one.sample.desc()).limit(span.last)


def _type(column: Column[Any]) -> pl.DataType:
    form = column.info["form"]
    by_form = {schema.MOMENT: UTC_TIME, schema.FLAG: pl.Boolean(), schema.NUMBER: pl.Float64()}
    return by_form.get(form, pl.Int64() if column.type.python_type is int else pl.String())


def _frame(connection: Connection, query: Any, columns: dict[str, pl.DataType]) -> pl.DataFrame:
    """The rows of a query as a frame; plain tuples from the driver, which is the quickest way."""
    cursor = connection.execute(query).cursor
    rows = [] if cursor is None else cursor.fetchall()
    stored = {name: _stored(type_) for name, type_ in columns.items()}
    frame = pl.DataFrame(rows, schema=stored, orient="row")
    decode = [
        pl.col(name).str.json_decode(type_) if isinstance(type_, pl.List) else pl.col(name).cast(type_)
        for name, type_ in columns.items()
        if stored[name] != type_
    ]
    return frame.with_columns(decode)


def _stored(type_: pl.DataType) -> pl.DataType:
    if isinstance(type_, pl.Datetime | pl.Boolean):
        return pl.Int64()
    return pl.String() if isinstance(type_, pl.List) else type_
