"""What the values of a column say: numbers, words for not measured, zeros, decimal marks, likely units."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sandlab.errors import InputError
from sandlab.exchange.proposing.heads import NOT_MEASURED
from sandlab.exchange.targets import Target
from sandlab.exchange.units import converted, units_like
from sandlab.quantities import parse_number

# Enough of a column to know what it holds.
LOOKED_AT = 400
_THOUSANDS = re.compile(r"\d{1,3}(,\d{3})+(\.\d+)?")


@dataclass(frozen=True, slots=True)
class Numbers:
    """The values of one column: numbers without zeros, how many zeros, texts that are none."""

    values: tuple[float, ...]
    zeros: int
    texts: tuple[str, ...]

    @property
    def filled(self) -> int:
        """How many cells hold something."""
        return len(self.values) + self.zeros + len(self.texts)


NO_NUMBERS = Numbers((), 0, ())


def numbers_in(cells: Iterable[str]) -> Numbers:
    """The first cells of a column that hold something, taken apart."""
    values: list[float] = []
    texts: list[str] = []
    zeros = 0
    for text in cells:
        if not text:
            continue
        if len(values) + len(texts) + zeros >= LOOKED_AT:
            break
        try:
            value = parse_number(text).value
        except InputError:
            texts.append(text)
            continue
        if value == 0.0:
            zeros += 1
        else:
            values.append(value)
    return Numbers(tuple(values), zeros, tuple(texts))


def shares(values: Sequence[float], unit: str, target: Target) -> tuple[float, float]:
    """The shares of values, read in `unit`, that are usual and that are possible for a target."""
    if not values:
        return 0.0, 0.0
    try:
        stored = [converted(value, unit, target.unit) for value in values]
    except InputError:
        return 0.0, 0.0
    ends = (target.doubtful, target.impossible)
    usual, possible = (sum(low <= value <= high for value in stored) / len(stored) for low, high in ends)
    return usual, possible


def likely_units(values: Sequence[float], target: Target) -> list[str]:
    """The other units in which the values are usual, when in the catalogue's unit they are not."""
    if not values or shares(values, target.unit, target)[0] >= 0.5:
        return []
    return [unit for unit in units_like(target.unit) if shares(values, unit, target)[0] >= 0.8]


def zero_means_not_tested(numbers: Numbers, target: Target) -> bool:
    """Whether the zeros of a column stand for tests not made: far below what is usual, beside real values."""
    low, high = target.doubtful
    return numbers.zeros > 0 and bool(numbers.values) and low > 0.1 * (high - low)


def absent_words(columns: Iterable[Numbers]) -> tuple[list[str], Counter[str]]:
    """The texts that say "not measured" in these columns, and all others that are no numbers."""
    texts = Counter(text for column in columns for text in column.texts if not text.startswith("#"))
    known = sorted({text.casefold() for text in texts if text.casefold() in NOT_MEASURED})
    others = Counter({text: count for text, count in texts.items() if text.casefold() not in NOT_MEASURED})
    return known, others


def decimal_marks(cells: Iterable[str]) -> tuple[tuple[str, ...], bool]:
    """The decimal marks in use, and whether commas look like those of thousands."""
    points = commas = thousands = 0
    for text in cells:
        points += "." in text
        if "," in text:
            commas += 1
            thousands += bool(_THOUSANDS.fullmatch(text))
    if commas and commas == thousands and points:
        return (".",), True
    if commas and not points:
        return (",",), False
    return ((".", ",") if commas else (".",)), False
