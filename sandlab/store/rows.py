"""Records as rows of the tables, and back."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, TypeVar

from sqlalchemy import Column, RowMapping, Table

from sandlab.errors import Problem, RecordRefused, impossible
from sandlab.records import Amendment, Batch, Reading, Record, Result, Sample
from sandlab.store import schema

R = TypeVar("R", bound=Record)
Row = dict[str, Any]

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def microseconds(moment: datetime) -> int:
    """An aware time as whole microseconds since 1970 UTC, without passing through a float."""
    if moment.tzinfo is None:
        raise impossible(f"time {moment}", "has no time zone", "give it one, UTC or the plant's")
    return (moment - EPOCH) // timedelta(microseconds=1)


def moment_of(microseconds: int) -> datetime:
    """The time in UTC that stands as whole microseconds in a row."""
    return EPOCH + timedelta(microseconds=microseconds)


def rows_of(record: Record) -> Iterator[tuple[Table, Row]]:
    """Every row that a record becomes, with its table."""
    table = schema.TABLES[type(record)]
    yield table, _encoded(table.columns, record)
    if isinstance(record, Sample):
        times = record.at_us, microseconds(record.recorded_at)
        for result in record.results:
            yield from _result_rows(record, record.id, times, 0, result)
    elif isinstance(record, Amendment):
        times = record.at_us, microseconds(record.recorded_at)
        yield from _result_rows(record, record.sample, times, record.revision, record.result)
    elif isinstance(record, Batch):
        for material, kg in record.added_kg.items():
            row = {"batch": record.id, "material": material, "kg": _finite(f"{material} kg", kg)}
            yield schema.batch_materials, row


def record_of(kind: type[R], row: RowMapping, **more: object) -> R:
    """The record that a row holds; `more` are the fields that stand in other tables."""
    columns = [column for column in schema.TABLES[kind].columns if column.name in kind.model_fields]
    return kind.model_validate({column.name: _decoded(column, row[column.name]) for column in columns} | more)


def result_of(row: RowMapping, readings: tuple[Reading, ...]) -> Result:
    """The result that a row of `results` holds."""
    known_at = row["known_at"]
    return Result(
        property=row["property"],
        value=row["value"],
        method=row["method"],
        censored=row["censored"],
        flags=json.loads(row["flags"]),
        readings=readings,
        known_at=None if known_at is None else moment_of(known_at),
        revision=row["revision"],
    )


def reading_of(row: RowMapping) -> Reading:
    """The raw reading that a row holds."""
    return Reading(name=row["name"], value=row["value"], repeat=row["repeat"])


def _result_rows(
    record: Sample | Amendment, sample: str, times: tuple[int, int], revision: int, result: Result
) -> Iterator[tuple[Table, Row]]:
    known_at = result.known_at
    yield (
        schema.results,
        {
            "system": record.system,
            "property": result.property,
            "taken_at": times[0],
            "sample": sample,
            "revision": revision,
            "value": None if result.value is None else _finite(result.property, result.value),
            "point": record.point,
            "method": result.method,
            "censored": result.censored,
            "flags": _json("flags", result.flags),
            "by": record.by,
            "known_at": None if known_at is None else microseconds(known_at),
            "recorded_at": times[1],
        },
    )
    for position, reading in enumerate(result.readings):
        yield (
            schema.readings,
            {
                "sample": sample,
                "property": result.property,
                "revision": revision,
                "position": position,
                "name": reading.name,
                "value": _finite(f"{result.property}, {reading.name}", reading.value),
                "repeat": reading.repeat,
            },
        )


def _encoded(columns: Iterable[Column[Any]], record: Record) -> Row:
    row: Row = {}
    for column in columns:
        source = record.result if isinstance(record, Amendment) and column.name == "property" else record
        row[column.name] = _cell(column, getattr(source, column.name))
    return row


def _cell(column: Column[Any], value: Any) -> str | int | float | None:
    form = column.info["form"]
    if value is None:
        return None
    if form == schema.MOMENT:
        return microseconds(value)
    if form == schema.JSON:
        return _json(column.name, value)
    if form == schema.NUMBER:
        return _finite(column.name, value)
    return int(value) if form == schema.FLAG else value


def _decoded(column: Column[Any], value: Any) -> object:
    form = column.info["form"]
    if value is None:
        return None
    if form == schema.MOMENT:
        return moment_of(value)
    if form == schema.JSON:
        return json.loads(value)
    return bool(value) if form == schema.FLAG else value


def _finite(where: str, value: float) -> float:
    if not math.isfinite(value):
        raise RecordRefused(Problem(where, f"{value} is not a finite number", "enter what was measured"))
    return float(value)


def _json(where: str, value: Mapping[str, float] | Sequence[str]) -> str:
    if not value:
        return "{}" if isinstance(value, Mapping) else "[]"
    if isinstance(value, Mapping):
        for name, kg in value.items():
            _finite(f"{where}, {name}", kg)
    return json.dumps(value, ensure_ascii=False)
