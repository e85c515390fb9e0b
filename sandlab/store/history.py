"""History as polars frames sorted by time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import polars as pl
from sqlalchemy import Column, Connection, and_, func, select

from sandlab.records import Batch, Record
from sandlab.store import schema
from sandlab.store.in_force import RESULT_COLUMNS as NAMES
from sandlab.store.in_force import fetched, in_force, of_its_sample
from sandlab.store.spans import Span, newest_first

UTC_TIME = pl.Datetime("us", "UTC")

RESULT_COLUMNS = dict.fromkeys(NAMES, pl.String()) | {
    "taken_at": UTC_TIME,
    "value": pl.Float64(),
    "flags": pl.List(pl.String()),
    "revision": pl.Int64(),
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
    """The value in force of every result of some properties."""
    query = in_force(pointed=point is not None)
    asked = {"system": system, "point": point, **span.limits()}
    rows: list[Any] = []
    for property_ in dict.fromkeys(properties):
        rows += fetched(connection, query, asked | {"property": property_})
    return frame_of(rows, RESULT_COLUMNS).sort("taken_at", "sample", "property")


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
        .join_from(schema.samples, schema.results, of_its_sample())
        .outerjoin(schema.amendments, amendment)
        .where(of_sample.id == sample, rows.property == property_)
        .order_by(rows.revision)
    )
    return frame_of(fetched(connection, query, {}), REVISION_COLUMNS)


def records(connection: Connection, kind: type[Record], system: str, span: Span) -> pl.DataFrame:
    """The records of one kind in force; batches have a row for every material added."""
    table = schema.TABLES[kind]
    found = newest_first(table, system, span)
    columns = {column.name: type_of(column) for column in table.columns}
    order = ["at", "recorded_at", "id"]
    if kind is not Batch:
        return frame_of(fetched(connection, found, {}), columns).sort(order)
    each, materials = found.subquery(), schema.batch_materials
    long = select(*each.c, materials.c.material, materials.c.kg).outerjoin_from(
        each, materials, materials.c.batch == each.c.id
    )
    columns |= {"material": pl.String(), "kg": pl.Float64()}
    return frame_of(fetched(connection, long, {}), columns).sort([*order, "material"])


def type_of(column: Column[Any]) -> pl.DataType:
    """The type that a stored column has in a frame."""
    form = column.info["form"]
    by_form = {schema.MOMENT: UTC_TIME, schema.FLAG: pl.Boolean(), schema.NUMBER: pl.Float64()}
    return by_form.get(form, pl.Int64() if column.type.python_type is int else pl.String())


def frame_of(rows: list[Any], columns: dict[str, pl.DataType]) -> pl.DataFrame:
    """Rows as a frame, with times and lists as such."""
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
