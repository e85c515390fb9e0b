"""How an instrument's lines look, and the values in one of them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from sandlab.errors import InputError, Problem, nearest
from sandlab.exchange.targets import targets
from sandlab.exchange.units import converted, units_like
from sandlab.quantities import parse_number
from sandlab.specs import Instrument, Specs

ANY = "any"
_NAME = re.compile(r"\{([^{}]*)\}")
_NUMBER = r"([<>]?\s*[+-]?\s*\d*[.,]?\d+)"


@dataclass(frozen=True, slots=True)
class Named:
    """One value of a line, in the unit it is stored in; `censored` is "<" or ">"."""

    name: str
    value: float
    censored: str = ""


class Unread(Exception):  # noqa: N818 - reads as what happened
    """A line that is none of the instrument's, with the reason."""


def known_names(
    specs: Specs, instrument: Instrument, system: str
) -> dict[str, tuple[str, tuple[float, float]]]:
    """What the names in braces may be, with the unit each is stored in and its possible values."""
    if instrument.gives == "batch":
        table = targets("batches", specs, system)
        return {name: (one.unit, one.impossible) for name, one in table.items()}
    names = {name: (one.unit, one.impossible) for name, one in specs.properties.items()}
    for key, method in specs.methods.items():
        names |= {f"{key}.{name}": (one.unit, (one.low, one.high)) for name, one in method.readings.items()}
    return names


@cache
def compiled(pattern: str) -> tuple[re.Pattern[str], tuple[str, ...]]:
    """The expression of a line's pattern and the names in their order, those that do not matter left out."""
    parts = _NAME.split(pattern)
    names = tuple(name for name in parts[1::2] if name != ANY)
    written = []
    for place, part in enumerate(parts):
        if place % 2:
            written.append(".*?" if part == ANY else _NUMBER)
        else:
            written.append(r"\s*".join(re.escape(word) for word in re.split(r"\s+", part)))
    return re.compile(r"\s*" + r"\s*".join(written) + r"\s*"), names


def values_in(line: str, instrument: Instrument, specs: Specs, system: str) -> tuple[Named, ...]:
    """The values of a line by the first pattern that fits; raises Unread with the reason."""
    known = known_names(specs, instrument, system)
    for pattern in instrument.lines:
        expression, names = compiled(pattern)
        found = expression.fullmatch(line)
        if found:
            return tuple(
                _value(name, text, instrument.units.get(name, known[name][0]), *known[name])
                for name, text in zip(names, found.groups(), strict=True)
            )
    raise Unread("it looks like none of the instrument's lines")


def _value(name: str, text: str, unit: str, stored: str, possible: tuple[float, float]) -> Named:
    try:
        typed = parse_number("".join(text.split()), where=name)
        value = converted(typed.value, unit, stored)
    except InputError as error:
        raise Unread(str(error.problems[0])) from error
    if not possible[0] <= value <= possible[1]:
        raise Unread(f"{name} cannot be {text} (possible: {possible[0]:g} to {possible[1]:g} {stored})")
    return Named(name, value, typed.censored)


def pattern_problems(specs: Specs) -> Iterator[Problem]:
    """Everything about the instruments that cannot be followed."""
    system = next(iter(specs.systems), "")
    for key, instrument in specs.instruments.items():
        where = f"instruments.toml [{key}]"
        known = known_names(specs, instrument, system) if system else {}
        for pattern in instrument.lines:
            yield from _wrong_pattern(f"{where} lines", pattern, list(known))
        yield from _wrong_units(f"{where} units", instrument.units, {name: known[name][0] for name in known})
        points = list(specs.systems[system].points) if system else []
        if instrument.point and instrument.point not in points:
            yield Problem(
                f"{where} point", f"'{instrument.point}' is not known", nearest(instrument.point, points)
            )
        if instrument.connection == "tcp" and not re.fullmatch(r"[^:\s]+:\d{1,5}", instrument.port):
            yield Problem(f"{where} port", f"'{instrument.port}' is no address", "write it as 10.0.0.7:4001")


def _wrong_pattern(where: str, pattern: str, known: list[str]) -> Iterator[Problem]:
    names = [name for name in _NAME.findall(pattern) if name != ANY]
    if not names:
        yield Problem(where, f'"{pattern}" names no value', "write a name in braces, for example {moisture}")
    for name in names:
        if name not in known:
            yield Problem(where, f"'{name}' is not known", nearest(name, known))
    for name in sorted({name for name in names if names.count(name) > 1}):
        yield Problem(where, f"'{name}' stands twice in \"{pattern}\"", "keep one of them")


def _wrong_units(where: str, units: Mapping[str, str], known: Mapping[str, str]) -> Iterator[Problem]:
    for name, unit in units.items():
        if name not in known:
            yield Problem(where, f"'{name}' is not known", nearest(name, list(known)))
        elif unit not in units_like(known[name]):
            yield Problem(where, f"'{unit}' is not a unit of {name}", nearest(unit, units_like(known[name])))
