"""One cell's text as a value in the catalogue's unit, judged against what can be and what usually is."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from sandlab.errors import InputError, Problem, nearest
from sandlab.exchange.layout import Measured
from sandlab.exchange.targets import Ranged
from sandlab.exchange.units import converted, units_like
from sandlab.quantities import parse_number


@dataclass(frozen=True, slots=True)
class Judged:
    """A value, or why there is none: `problem` when the cell is refused, neither when it was not measured."""

    value: float | None = None
    censored: Literal["", "<", ">"] = ""
    doubt: str = ""
    problem: Problem | None = None


NOT_MEASURED = Judged()


def judge(
    text: str, measured: Measured, entry: Ranged, *, marks: Collection[str], absent: Collection[str]
) -> Judged:
    """What the text of one cell says about a property; `absent` holds the folded texts for not measured."""
    if text.casefold() in absent:
        return NOT_MEASURED
    if text.startswith("#"):
        return Judged(problem=Problem("", f"the cell shows the error {text}", "correct the formula"))
    foreign = [mark for mark in ".," if mark in text and mark not in marks]
    if foreign:
        do = "correct it, or add the mark to decimal_marks"
        return Judged(problem=Problem("", f"the decimal mark '{foreign[0]}' is not this file's", do))
    units = units_like(entry.unit)
    if measured.unit not in units:
        what = f"'{measured.unit}' is not a unit of {entry.label}"
        return Judged(problem=Problem("", what, nearest(measured.unit, units)))
    try:
        typed = parse_number(text)
        if typed.value == 0.0 and measured.zero_means_not_tested and not typed.censored:
            return NOT_MEASURED
        value = converted(typed.value, measured.unit, entry.unit)
    except InputError as error:
        return Judged(problem=error.problems[0])
    return _within(value, typed.censored, entry)


def _within(value: float, censored: Literal["", "<", ">"], entry: Ranged) -> Judged:
    unit = "" if entry.unit == "1" else f" {entry.unit}"
    written = f"{censored}{value:g}{unit}"
    low, high = entry.impossible
    if not low <= value <= high:
        what = f"{entry.label} cannot be {written} (possible: {low:g} to {high:g})"
        return Judged(problem=Problem("", what, "correct the value or the unit in the mapping"))
    low, high = entry.doubtful
    doubt = ""
    if not low <= value <= high:
        doubt = f"{entry.label} of {written} is unusual (usual: {low:g} to {high:g})"
    return Judged(value, censored, doubt)
