"""Reads the spec files of a plant, laid over the shipped ones, and reports every problem at once."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from sandlab.errors import Problem, SpecsError, nearest
from sandlab.labels import FILES, overlay, read_tables, shipped_folder
from sandlab.specs.models import Specs


def load(folder: Path | None = None) -> Specs:
    """The shipped specs with those of `folder` laid over them; raises SpecsError with all problems."""
    tables: dict[str, Any] = {}
    origin: dict[str, Path] = {}
    problems: list[Problem] = []
    for name in FILES:
        tables[name] = {}
        for place in (shipped_folder(), folder):
            path = place / f"{name}.toml" if place is not None else None
            if path is None or not path.exists():
                continue
            origin[name] = path
            try:
                tables[name] = overlay(tables[name], read_tables(path))
            except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
                problems.append(Problem(str(path), f"cannot be read: {error}", "mend the file or remove it"))
    problems.extend(_stray_files(folder))
    specs, wrong = _validated(tables, origin)
    problems.extend(wrong)
    if specs is None or problems:
        raise SpecsError(problems)
    return specs


def from_canonical(text: str) -> Specs:
    """The specs once in force, from the text kept with old samples."""
    tables = json.loads(text)
    for system in tables["systems"].values():
        for test_set in system["schedule"].values():
            test_set["at"] = [f"{minutes // 60:02d}:{minutes % 60:02d}" for minutes in test_set["at"]]
    return Specs.model_validate(tables)


def _stray_files(folder: Path | None) -> list[Problem]:
    if folder is None or not folder.is_dir():
        return []
    strays = sorted(path for path in folder.glob("*.toml") if path.stem not in FILES)
    return [Problem(str(path), "is not a spec file", nearest(path.stem, FILES)) for path in strays]


def _validated(tables: Mapping[str, Any], origin: Mapping[str, Path]) -> tuple[Specs | None, list[Problem]]:
    arranged = {name: tables[name] for name in FILES if name != "system"} | dict(tables["system"])
    try:
        specs = Specs.model_validate(arranged)
    except ValidationError as error:
        return None, [
            _problem(detail["loc"], detail["type"], detail["msg"], origin) for detail in error.errors()
        ]
    problems = []
    for path, what, valid in _dangling(specs):
        top = path.split(".", 1)[0]
        problems.append(_at(top, path, f"'{what}' is not known", nearest(what, valid), origin))
    return specs, problems


def _at(top: str, path: str, what: str, do: str, origin: Mapping[str, Path]) -> Problem:
    name = top if top in FILES else "system"
    table = path.removeprefix(f"{top}.") if top in FILES else path
    return Problem(f"{origin.get(name, f'{name}.toml')} [{table}]", what, do)


def _problem(loc: Sequence[int | str], kind: str, message: str, origin: Mapping[str, Path]) -> Problem:
    path = ".".join(str(part) for part in loc if part != "[key]")
    top = str(loc[0])
    if kind == "missing":
        return _at(top, path, "the key is missing", "add it", origin)
    if kind == "extra_forbidden":
        return _at(
            top, path, "is not a key of this table", nearest(str(loc[-1]), _valid_names(loc[:-1])), origin
        )
    return _at(top, path, message.removeprefix("Value error, "), "correct the value", origin)


def _valid_names(loc: Sequence[int | str]) -> list[str]:
    """Field names of the model that stands at `loc`."""
    kind: Any = Specs
    for part in loc:
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            field = kind.model_fields.get(str(part))
            kind = field.annotation if field else None
        elif get_origin(kind) is dict:
            kind = get_args(kind)[1]
        kind = _unwrapped(kind)
    return list(kind.model_fields) if isinstance(kind, type) and issubclass(kind, BaseModel) else []


def _unwrapped(kind: Any) -> Any:
    if get_origin(kind) is Annotated:
        return _unwrapped(get_args(kind)[0])
    if get_origin(kind) in (Union, UnionType):
        return next((_unwrapped(choice) for choice in get_args(kind) if choice is not type(None)), None)
    return kind


Dangling = tuple[str, str, Sequence[str]]


def _dangling(specs: Specs) -> Iterator[Dangling]:
    """Every name that points at nothing: where it stands, the name, the valid names."""
    catalogue, sources = list(specs.properties), list(specs.sources)
    for key, entry in specs.properties.items():
        yield from _unknown(f"properties.{key}.source", [entry.source], sources)
    for key, method in specs.methods.items():
        yield from _unknown(f"methods.{key}.property", [method.property], catalogue)
        yield from _unknown(f"methods.{key}.source", [method.source], sources)
        yield from _unknown(f"methods.{key}.derived_from", method.derived_from.values(), catalogue)
        yield from _unknown(f"methods.{key}.from_methods", method.from_methods, list(method.derived_from))
        allowed = [name for names in method.from_methods.values() for name in names]
        yield from _unknown(f"methods.{key}.from_methods", allowed, ["", *specs.methods])
    for key, material in specs.materials.items():
        yield from _unknown(f"materials.{key}.source", [material.source], sources)
    for key, reaction in specs.reactions.items():
        yield from _unknown(f"reactions.{key}.property", [reaction.property], catalogue)
        if reaction.call:
            yield from _unknown(f"reactions.{key}.call", [reaction.call], list(specs.plant.contacts))
    for key in specs.systems:
        yield from _dangling_in_system(specs, key)


def _dangling_in_system(specs: Specs, key: str) -> Iterator[Dangling]:
    system, catalogue, where = specs.systems[key], list(specs.properties), f"systems.{key}"
    for name, feeder in system.feeders.items():
        yield from _unknown(f"{where}.feeders.{name}.material", [feeder.material], list(specs.materials))
    yield from _unknown(f"{where}.targets", system.targets, catalogue)
    for name, test_set in system.schedule.items():
        yield from _unknown(f"{where}.schedule.{name}.point", [test_set.point], list(system.points))
        yield from _unknown(f"{where}.schedule.{name}.properties", test_set.properties, catalogue)


def _unknown(where: str, names: Any, valid: Sequence[str]) -> Iterator[Dangling]:
    for name in names:
        if name not in valid:
            yield where, name, valid
