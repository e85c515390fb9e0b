"""Which results are in force, asked without frames: what the first screen needs loads no polars."""

from __future__ import annotations

from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, bindparam, exists, func, select

from sandlab.store import schema
from sandlab.store.rows import moment_of
from sandlab.store.spans import Span

RESULT_COLUMNS = (
    "property",
    "taken_at",
    "value",
    "sample",
    "point",
    "method",
    "censored",
    "flags",
    "revision",
    "by",
    "known_at",
)


def newest(
    connection: Connection, system: str, property_: str, point: str
) -> tuple[float, datetime, str] | None:
    """Value, time and censoring of the newest result of a property at a point."""
    asked = {"system": system, "point": point, "property": property_, **Span(last=1).limits()}
    rows = fetched(connection, in_force(pointed=True), asked)
    if not rows:
        return None
    found = dict(zip(RESULT_COLUMNS, rows[0], strict=True))
    return found["value"], moment_of(found["taken_at"]), found["censored"]


def of_its_sample() -> ColumnElement[bool]:
    """The condition that joins samples and results along the key of the results."""
    of_sample, rows = schema.samples.c, schema.results.c
    return and_(rows.system == of_sample.system, rows.taken_at == of_sample.at, rows.sample == of_sample.id)


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


@cache
def in_force(*, pointed: bool) -> Select[Any]:
    """The query for one property; making it takes longer than fetching a few hundred rows, so it is kept."""
    one, revises = schema.results.c, schema.samples.c.revises
    known_at = func.coalesce(one.known_at, one.recorded_at).label("known_at")
    columns = [known_at if name == "known_at" else one[name] for name in RESULT_COLUMNS]
    query = select(*columns).where(
        one.system == bindparam("system"),
        one.property == bindparam("property"),
        one.taken_at.between(bindparam("since"), bindparam("until")),
        one.value.is_not(None),
        last_revision(),
        one.sample.not_in(select(revises).where(revises.is_not(None))),
    )
    if pointed:
        query = query.where(one.point == bindparam("point"))
    return query.order_by(one.taken_at.desc(), one.sample.desc()).limit(bindparam("last"))


def fetched(connection: Connection, query: Select[Any], asked: dict[str, Any]) -> list[Any]:
    """The rows of a query as plain tuples from the driver, which is the quickest way."""
    cursor = connection.execute(query, asked).cursor
    return [] if cursor is None else list(cursor.fetchall())
