"""Units as heads and unit columns write them, and masses, at the border of a file."""

from __future__ import annotations

import re

from sandlab.quantities import DIMENSIONS, convert, dimension_of

# kg in one of each.
MASSES = {"kg": 1.0, "t": 1000.0, "g": 0.001, "lb": 0.45359237}
# Other ways of writing a unit of ours; compared without spaces and in lower case.
_ALSO = {
    "°c": "C",
    "degc": "C",
    "celsius": "C",
    "°f": "F",
    "degf": "F",
    "fahrenheit": "F",
    "n/cm²": "N/cm2",
    "n/cm^2": "N/cm2",
    "kn/m2": "kPa",
    "kn/m²": "kPa",
    "lb/in2": "psi",
    "lb/in²": "psi",
    "lbf/in2": "psi",
    "lbs/sq.in.": "psi",
    "p/cm2": "gf/cm2",
    "p/cm²": "gf/cm2",
    "gf/cm²": "gf/cm2",
    "g/cm³": "g/cm3",
    "g/cm^3": "g/cm3",
    "kg/dm3": "g/cm3",
    "kg/dm³": "g/cm3",
    "pct": "%",
    "percent": "%",
    "gew.-%": "%",
    "wt%": "%",
    "gr": "g",
    "tonnes": "t",
    "tons": "t",
    "kgs": "kg",
    "lbs": "lb",
}
_OURS = {
    unit.casefold(): unit
    for units in (*DIMENSIONS.values(), ("%", "g", "g/cm3", "min", "s", "ml", "mm", "kg", "t", "lb", "t/t"))
    for unit in units
}
_KNOWN = _OURS | _ALSO
_BRACKETED = re.compile(r"[\[({]([^\[\](){}]+)[\])}]")


def unit_named(text: str) -> str:
    """Our name of a unit as somebody wrote it; the text itself when it is none we know."""
    return _KNOWN.get("".join(text.split()).casefold(), text)


def is_unit(text: str) -> bool:
    """Whether a text is a unit and nothing else, with or without brackets."""
    return "".join(text.split()).casefold().strip("[](){}") in _KNOWN


def unit_in(head: str) -> str:
    """The unit that a head names in brackets, or else as its last word; empty when it names none."""
    written = [*_BRACKETED.findall(head), *head.replace(",", " ").split()[-1:]]
    for text in written:
        if is_unit(text) and (len(text) > 1 or text == "%" or text in _BRACKETED.findall(head)):
            return unit_named(text.strip())
    return ""


def without_unit(head: str) -> str:
    """A head without brackets that hold a unit, and without a unit as its last word."""
    bare = _BRACKETED.sub(lambda found: " " if is_unit(found[1]) else f" {found[1]} ", head)
    words = bare.split()
    while len(words) > 1 and is_unit(words[-1]) and (len(words[-1]) > 1 or words[-1] == "%"):
        words.pop()
    return " ".join(words)


def units_like(stored: str) -> tuple[str, ...]:
    """The units in which a file may have what is stored in `stored`."""
    if stored in ("kg", "t"):
        return tuple(MASSES)
    dimension = dimension_of(stored)
    return DIMENSIONS[dimension] if dimension else (stored,)


def converted(value: float, from_unit: str, to_unit: str) -> float:
    """`value` in another unit, masses among them; raises InputError when they measure different things."""
    if from_unit in MASSES and to_unit in MASSES:
        return value * MASSES[from_unit] / MASSES[to_unit]
    return convert(value, from_unit, to_unit)
