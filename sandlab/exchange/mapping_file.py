"""Reads a mapping and reports all that is wrong with it at once, with the nearest valid name."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from collections.abc import Mapping as Table
from pathlib import Path
from typing import Any, get_args
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ValidationError

from sandlab.errors import ImportRefused, Problem, nearest
from sandlab.exchange.mapping import Block, Column, Mapping, Place, SheetMap, is_long
from sandlab.exchange.moments import compiled
from sandlab.exchange.targets import Target, targets
from sandlab.exchange.units import units_like
from sandlab.specs import Specs

Wrong = tuple[str, str, str]
PLACES = ("date", "time", "technician", "sampling_point", "note", "property", "value", "unit")


def load_mapping(path: Path, specs: Specs) -> Mapping:
    """The mapping in a TOML file, checked against the specs; raises ImportRefused with all problems."""
    if not path.is_file():
        raise ImportRefused(
            Problem(path.name, "there is no such mapping file", "check the name and the folder")
        )
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise ImportRefused(
            Problem(path.name, f"cannot be read: {error}", "mend the mapping file")
        ) from error
    try:
        mapping = Mapping.model_validate(tables)
    except ValidationError as error:
        problems = [_shape(detail["loc"], detail["type"], detail["msg"]) for detail in error.errors()]
    else:
        problems = list(_wrong(mapping, specs))
    if problems:
        raise ImportRefused(Problem(f"{path.name} [{where}]", what, do) for where, what, do in problems)
    return mapping


def _shape(loc: Sequence[int | str], kind: str, message: str) -> Wrong:
    where = ".".join(str(part) for part in loc)
    if kind == "missing":
        return where, "the key is missing", "add it"
    if kind == "extra_forbidden":
        return where, "is not a key of this table", nearest(str(loc[-1]), _keys(loc[:-1]))
    hints = {"at": 'write column letters such as "F"', "fixed_time": 'write a time such as "07:00"'}
    return where, message, hints.get(str(loc[-1]), "correct the value")


def _keys(loc: Sequence[int | str]) -> list[str]:
    """The keys of the mapping table that stands at `loc`."""
    model: type[BaseModel] | None = Mapping
    for part in loc:
        if model is None:
            break
        if str(part) in model.model_fields:
            kinds = _models(model.model_fields[str(part)].annotation)
            # A table keyed by the writer's own names: the next part is such a name, the model stays.
            model = kinds[0] if kinds else None
    return list(model.model_fields) if model else []


def _models(kind: Any) -> list[type[BaseModel]]:
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return [kind]
    return [model for argument in get_args(kind) for model in _models(argument)]


def _wrong(mapping: Mapping, specs: Specs) -> Iterator[Wrong]:
    """Everything that has the right shape and still cannot be followed."""
    if mapping.system not in specs.systems:
        yield "system", f"'{mapping.system}' is not known", nearest(mapping.system, list(specs.systems))
        return
    points = list(specs.systems[mapping.system].points)
    yield from _unknown("point", mapping.point, points)
    for written, point in mapping.sampling_points.items():
        yield from _unknown(f"sampling_points.{written}", point, points)
    yield from _wrong_clock(mapping)
    for key, sheet in mapping.sheets.items():
        yield from _wrong_rows(f"sheets.{key}", sheet)
        for name, block in sheet.blocks.items():
            where = f"sheets.{key}.blocks.{name}"
            if block.point is not None:
                yield from _unknown(f"{where}.point", block.point, points)
            if sheet.date is None and block.date is None:
                yield where, "neither the sheet nor the block has a date column", "add date"
            yield from _wrong_block(where, sheet, block, targets(sheet.kind, specs, mapping.system))


def _unknown(where: str, name: str, valid: Sequence[str]) -> Iterator[Wrong]:
    if name not in valid:
        yield where, f"'{name}' is not known", nearest(name, valid)


def _wrong_clock(mapping: Mapping) -> Iterator[Wrong]:
    if mapping.time_zone is not None:
        try:
            ZoneInfo(mapping.time_zone)
        except (KeyError, ValueError, OSError):
            yield "time_zone", f"'{mapping.time_zone}' is not a time zone", "write one such as Europe/Madrid"
    for key, patterns, needed in (
        ("dates", mapping.dates, ("day", "month", "year")),
        ("times", mapping.times, ("hour",)),
    ):
        for pattern in patterns:
            try:
                missing = [word for word in needed if word not in compiled(pattern).groupindex]
            except ValueError as error:
                yield key, str(error), 'write for example "day.month.year" or "hour:minute"'
                continue
            if missing:
                yield key, f'"{pattern}" lacks {", ".join(missing)}', "add it to the pattern"


def _wrong_rows(where: str, sheet: SheetMap) -> Iterator[Wrong]:
    if sheet.last_row is not None and sheet.last_row < sheet.first_row:
        yield where, f"last_row {sheet.last_row} is above first_row {sheet.first_row}", "correct one of them"
    if any(row >= sheet.first_row for row in sheet.head_rows):
        yield where, "a head row is not above first_row", "correct head_rows or first_row"
    if sheet.date is not None:
        yield from _wrong_place(f"{where}.date", sheet, sheet.date)


def _wrong_block(where: str, sheet: SheetMap, block: Block, known: Table[str, Target]) -> Iterator[Wrong]:
    for key in PLACES:
        place = getattr(block, key)
        if place is not None:
            yield from _wrong_place(f"{where}.{key}", sheet, place)
    if block.time is not None and block.fixed_time is not None:
        yield where, "has both time and fixed_time", "keep one of them"
    if is_long(block) and (block.property is None or block.value is None):
        yield where, "a long table needs both property and value", "add the one that is missing"
    if is_long(block) and sheet.kind != "samples":
        yield where, f"a long table of {sheet.kind} cannot be read", "give each of the columns its place"
    if not is_long(block) and not block.columns:
        yield where, "maps no property", "add columns, or property and value for a long table"
    if not is_long(block) and block.unit is not None:
        yield where, "a unit column belongs to a long table", "give each of the columns its unit"
    for name, column in block.columns.items():
        yield from _wrong_column(f"{where}.columns.{name}", sheet, block, column)
        yield from _unknown(f"{where}.columns", name, list(known))
        if name in known and column.unit is not None:
            units = units_like(known[name].unit)
            yield from _unknown(f"{where}.columns.{name}.unit", column.unit, units)


def _wrong_place(where: str, sheet: SheetMap, place: Place) -> Iterator[Wrong]:
    if place.at is None and place.head is None:
        yield where, "does not say where the column is", "add at (its letters), head (its text), or both"
    if place.head is not None and not sheet.head_rows:
        yield where, "names a head, but the sheet has no head_rows", "add head_rows to the sheet"


def _wrong_column(where: str, sheet: SheetMap, block: Block, column: Column) -> Iterator[Wrong]:
    if not is_long(block):
        yield from _wrong_place(where, sheet, column)
        if column.text is not None:
            yield where, "text belongs to a long table", "remove it"
    elif column.at is not None or column.head is not None:
        yield where, "a long table finds its properties by text", "remove at and head"
