"""Units, typed numbers and rounding: the border between what people read and plain floats inside."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal

from sandlab.errors import InputError, Problem, impossible, nearest

DIMENSIONS: dict[str, tuple[str, ...]] = {
    "pressure": ("kPa", "N/cm2", "psi", "gf/cm2"),
    "temperature": ("C", "F"),
}
# Units that are shown as they are stored.
PLAIN_UNITS = ("%", "1", "g", "g/cm3", "min", "s", "ml", "mm", "N")

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)")
LARGEST = 1e6


@cache
def _pascals() -> dict[str, float]:
    """Pascals per unit of pressure, from the constants of scipy (CODATA and the definitions of the pound)."""
    # Imported here: the first frame must not wait for scipy.
    from scipy import constants

    square_centimetre = constants.centi**2
    return {
        "kPa": constants.kilo,
        "N/cm2": 1.0 / square_centimetre,
        "psi": constants.psi,
        "gf/cm2": constants.gram * constants.g / square_centimetre,
    }


def dimension_of(unit: str) -> str | None:
    """The dimension in which a unit can be converted, None for units shown as stored."""
    for dimension, units in DIMENSIONS.items():
        if unit in units:
            return dimension
    return None


def shown_in(unit: str, chosen: Mapping[str, str]) -> str:
    """The unit in which a value stored in `unit` is shown, given the plant's choice per dimension.

    Only a dimension's first unit follows the plant's choice: wet tensile strength stays in N/cm2 where green
    strength is shown in psi.
    """
    dimension = dimension_of(unit)
    if dimension is None or unit != DIMENSIONS[dimension][0]:
        return unit
    return chosen.get(dimension, unit)


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """`value` of `from_unit` in `to_unit`; raises InputError when they do not measure the same thing."""
    if from_unit == to_unit:
        return value
    dimension = dimension_of(from_unit)
    if dimension is None or to_unit not in DIMENSIONS[dimension]:
        valid = DIMENSIONS.get(dimension or "", (from_unit,))
        raise impossible(to_unit, f"not a unit of {dimension or from_unit}", nearest(to_unit, valid))
    if dimension == "temperature":
        return value * 1.8 + 32.0 if to_unit == "F" else (value - 32.0) / 1.8
    pascals = _pascals()
    return value * pascals[from_unit] / pascals[to_unit]


@dataclass(frozen=True, slots=True)
class Typed:
    """A typed number; `censored` is "<" or ">" when only a bound was written."""

    value: float
    censored: Literal["", "<", ">"] = ""


def parse_number(text: str, *, where: str = "value") -> Typed:
    """The number a person typed, with decimal point or comma; raises InputError when it is none.

    Exponents, thousands separators and two decimal marks are refused: each has turned into a wrong
    value on somebody's sheet.
    """
    stripped = text.strip().replace("\u2212", "-").replace("\u00a0", "")
    censored: Literal["", "<", ">"] = "<" if stripped[:1] == "<" else ">" if stripped[:1] == ">" else ""
    digits = stripped[len(censored) :].strip()
    if not digits:
        raise impossible(where, f"'{text}' is empty", "type a number or leave the field blank")
    if sum(digits.count(mark) for mark in ".,") > 1:
        raise impossible(where, f"'{text}' has two decimal marks", "write one decimal point or comma")
    if not _NUMBER.fullmatch(digits):
        raise impossible(where, f"'{text}' is not a number", "write digits and one decimal mark")
    value = float(digits.replace(",", "."))
    if abs(value) > LARGEST:
        raise impossible(where, f"'{text}' is too large", "check for a missing decimal mark")
    return Typed(value, censored)


def format_number(value: float | None, decimals: int, *, mark: str = ".") -> str:
    """`value` rounded to `decimals`, with the plant's decimal mark; a dash when there is none."""
    if value is None or not math.isfinite(value):
        return "-"
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text.replace(".", mark)


def require_finite(value: float, *, where: str) -> float:
    """`value` itself when finite; the database would store NaN as nothing, so it is refused here."""
    if not math.isfinite(value):
        raise InputError(Problem(where, f"{value} is not a number", "enter a finite value"))
    return value
