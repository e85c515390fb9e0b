"""Reads the spec files of a plant, laid over the shipped ones, and reports every problem at once."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Collection, Iterator, Mapping, Sequence
from copy import deepcopy
from functools import cache
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from sandlab.errors import Problem, SpecsError, nearest
from sandlab.labels import FILES, overlay, read_tables, shipped_folder
from sandlab.specs.models import Specs
from sandlab.specs.wording import in_words


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
                over = read_tables(path)
                problems.extend(_wrong_switches(path, over))
                tables[name] = overlay(tables[name], over)
            except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
                problems.append(Problem(str(path), f"cannot be read: {error}", "mend the file or remove it"))
    problems.extend(_stray_files(folder))
    specs, wrong = _validated(tables, origin)
    problems.extend(wrong)
    if specs is None or problems:
        raise SpecsError(problems)
    return specs


def from_canonical(text: str) -> Specs:
    """The specs once in force, from the text kept with old samples; they keep its hash."""
    tables = json.loads(text)
    if list(tables) == sorted(tables):  # as texts were kept once; those of today begin with the properties
        tables = _in_order(tables, _shipped())
    for system in tables["systems"].values():
        for test_set in system["schedule"].values():
            test_set["at"] = _times_of_day(test_set["at"])
    if "shifts" in tables["plant"]:
        tables["plant"]["shifts"] = _times_of_day(tables["plant"]["shifts"])
    specs = Specs.model_validate(tables)
    vars(specs)["canonical_text"] = text  # worked out anew, a text without today's keys had another hash
    return specs


@cache
def _shipped() -> dict[str, Any]:
    return _arranged({name: read_tables(shipped_folder() / f"{name}.toml") for name in FILES})


def _in_order(tables: Mapping[str, Any], model: Mapping[str, Any]) -> dict[str, Any]:
    """`tables` with the keys of `model` first and in its order; so in each table below."""
    ordered = {}
    for key in (one for one in dict.fromkeys([*model, *tables]) if one in tables):
        below, like = tables[key], model.get(key)
        ordered[key] = (
            _in_order(below, like if isinstance(like, dict) else {}) if isinstance(below, dict) else below
        )
    return ordered


def _times_of_day(minutes: Sequence[int]) -> list[str]:
    return [f"{one // 60:02d}:{one % 60:02d}" for one in minutes]


def _stray_files(folder: Path | None) -> list[Problem]:
    if folder is None or not folder.is_dir():
        return []
    strays = sorted(path for path in folder.glob("*.toml") if path.stem not in FILES)
    return [Problem(str(path), "is not a spec file", nearest(path.stem, FILES)) for path in strays]


def _wrong_switches(path: Path, tables: Mapping[str, Any], where: str = "") -> Iterator[Problem]:
    """Every `enabled` that is neither true nor false: it would leave in force what was to go."""
    for key, value in tables.items():
        place = f"{where}.{key}".lstrip(".")
        if isinstance(value, dict):
            yield from _wrong_switches(path, value, place)
        elif key == "enabled" and not isinstance(value, bool):
            yield Problem(f"{path} [{place}]", f"{value!r} is neither true nor false", "write true or false")


def _validated(tables: Mapping[str, Any], origin: Mapping[str, Path]) -> tuple[Specs | None, list[Problem]]:
    arranged = _arranged(tables)
    try:
        specs = Specs.model_validate(arranged)
    except ValidationError as error:
        problems = [_problem(detail, arranged, origin) for detail in error.errors()]
        mended, taken_out = _mended(arranged, error)
        try:
            rest = Specs.model_validate(mended)
        except ValidationError:
            return None, problems
        return None, problems + _dangling_problems(rest, origin, apart_from=taken_out)
    return specs, _dangling_problems(specs, origin)


def _arranged(tables: Mapping[str, Any]) -> dict[str, Any]:
    """The tables as the model wants them: those of system.toml stand beside the others."""
    return {name: tables[name] for name in FILES if name != "system"} | dict(tables["system"])


def _mended(arranged: Mapping[str, Any], error: ValidationError) -> tuple[dict[str, Any], set[str]]:
    """The tables with faulty entries as shipped, or taken out, so that the others can be looked at too."""
    mended = deepcopy(dict(arranged))
    shipped = _shipped()
    taken_out = set()
    for detail in error.errors():
        place = [str(part) for part in detail["loc"] if part != "[key]"]
        if detail["type"] != "extra_forbidden":
            place = place[: 4 if place[0] == "systems" else 2]
        into, whence, name = _below(mended, place[:-1]), _below(shipped, place[:-1]), place[-1]
        if name in whence:
            into[name] = deepcopy(whence[name])
        elif into.pop(name, None) is not None:
            taken_out.add(name)
    return mended, taken_out


def _below(tables: Mapping[str, Any], path: Sequence[str]) -> dict[str, Any]:
    """The table that stands at `path`; an empty one where there is none."""
    found: Any = tables
    for part in path:
        found = found.get(part) if isinstance(found, dict) else None
    return found if isinstance(found, dict) else {}


def _dangling_problems(
    specs: Specs, origin: Mapping[str, Path], *, apart_from: Collection[str] = ()
) -> list[Problem]:
    problems = []
    for path, what, valid in _dangling(specs):
        if what not in apart_from:
            top = path.split(".", 1)[0]
            problems.append(_at(top, path, f"'{what}' is not known", nearest(what, valid), origin))
    return problems


def _at(top: str, path: str, what: str, do: str, origin: Mapping[str, Path]) -> Problem:
    name = top if top in FILES else "system"
    table = path.removeprefix(f"{top}.") if top in FILES else path
    return Problem(f"{origin.get(name, f'{name}.toml')} [{table}]", what, do)


def _problem(detail: ErrorDetails, arranged: Mapping[str, Any], origin: Mapping[str, Path]) -> Problem:
    loc, message = detail["loc"], detail["msg"].removeprefix("Value error, ")
    path = ".".join(str(part) for part in loc if part != "[key]")
    top = str(loc[0])
    if detail["type"] == "missing" and isinstance(loc[-1], int):
        return _at(top, path.rpartition(".")[0], "the pair lacks a number", "write [low, high]", origin)
    if detail["type"] == "missing":
        return _at(top, path, "the key is missing", f"add it{_misspelt(loc, arranged)}", origin)
    if detail["type"] == "extra_forbidden":
        hint = nearest(str(loc[-1]), _valid_names(loc[:-1]))
        return _at(top, path, "is not a key of this table", hint, origin)
    what, do = in_words(detail["type"], detail["input"], detail.get("ctx", {}), message)
    return _at(top, path, what, do, origin)


def _misspelt(loc: Sequence[int | str], arranged: Mapping[str, Any]) -> str:
    """The entry that was meant, when an incomplete one is named almost like it."""
    *above, entry = [str(part) for part in loc[:-1]]
    others = [name for name in _below(arranged, above) if name != entry]
    hint = nearest(entry, others)
    return f"; {hint.removesuffix('?')} instead of '{entry}'?" if hint.startswith("did you") else ""


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
        for name, timed in method.timed.items():
            yield from _unknown(f"methods.{key}.timed.{name}.source", [timed.source], sources)
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
