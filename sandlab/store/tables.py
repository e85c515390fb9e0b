"""Whole tables of a sand system as frames, replaced rows and voids included."""

from __future__ import annotations

from typing import Any

import polars as pl
from sqlalchemy import Connection, Select, Table, select

from sandlab.store import schema
from sandlab.store.history import frame_of, type_of
from sandlab.store.in_force import fetched
from sandlab.store.reading import properties_of
from sandlab.store.spans import Span

# Tables whose rows belong to the records of another one, and the column that names it.
BELONGING = {
    "readings": (schema.readings, schema.readings.c.sample, schema.samples),
    "batch_materials": (schema.batch_materials, schema.batch_materials.c.batch, schema.batches),
}


def table(connection: Connection, name: str, system: str, span: Span) -> pl.DataFrame:
    """All rows of one table, as stored: times and flags as such, lists and mappings as JSON text.

    `span` counts by the time of the record (or that of its sample or batch). Rows come in the order of the
    table's key, records by time.
    """
    limits = span.limits()
    ends = limits["since"], limits["until"]
    if name == schema.results.name:
        return _results(connection, system, ends)
    if name in BELONGING:
        rows, column, owner = BELONGING[name]
        owners = select(owner.c.id).where(owner.c.system == system, owner.c.at.between(*ends))
        return _framed(connection, rows, select(rows).where(column.in_(owners)).order_by(*rows.primary_key))
    found = schema.TABLES[schema.KINDS[name]]
    query = select(found).where(found.c.system == system, found.c.at.between(*ends))
    return _framed(connection, found, query.order_by(found.c.at, found.c.recorded_at, found.c.id))


def _results(connection: Connection, system: str, ends: tuple[int, int]) -> pl.DataFrame:
    """Property by property, which is the way along the key."""
    column = schema.results.c
    each = [
        _framed(
            connection,
            schema.results,
            select(schema.results)
            .where(column.system == system, column.property == property_, column.taken_at.between(*ends))
            .order_by(column.taken_at, column.sample, column.revision),
        )
        for property_ in properties_of(connection, system)
    ]
    empty = frame_of([], {one.name: type_of(one) for one in schema.results.columns})
    return pl.concat([empty, *each])


def _framed(connection: Connection, rows: Table, query: Select[Any]) -> pl.DataFrame:
    return frame_of(fetched(connection, query, {}), {column.name: type_of(column) for column in rows.columns})
