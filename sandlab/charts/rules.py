"""The Western Electric and Nelson rules: which points complete a pattern, and which points make it up.

A rule flags the point that completes its pattern. Comparisons are strict, with the line as drawn: a point on
a line is beyond nothing. A missing test (NaN) ends runs and trends; equal neighbours end trends and
alternation. Two of the first two points beyond two sigmas do signal: no third point could undo it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import Limits
from sandlab.charts.estimates import CHUNK, as_series
from sandlab.charts.normal import Floats
from sandlab.errors import impossible, nearest

Places = npt.NDArray[np.intp]
# One bit per point: a whole number for short series, whose calls cost least, words of 64 for long ones.
Bits = int | npt.NDArray[np.integer[Any]]
Pattern = Literal["limit", "side", "trend", "alternating", "inner", "both_sides"]
Side = Literal["up", "down", "both"]

WESTERN_ELECTRIC = "western_electric"
NELSON = "nelson"


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: `need` of `span` points in a pattern; `beyond` is the line in sigmas, where it has one."""

    key: str
    sentence: str
    pattern: Pattern
    need: int
    span: int
    beyond: float
    sets: tuple[str, ...]
    alarms: bool = False


_BOTH_SETS = (WESTERN_ELECTRIC, NELSON)
RULES: dict[str, Rule] = {
    rule.key: rule
    for rule in (
        Rule("beyond_limit", "one point beyond a control limit", "limit", 1, 1, 3.0, _BOTH_SETS, alarms=True),
        Rule(
            "two_of_three_outer",
            "two of three points beyond two sigmas on one side",
            "side", 2, 3, 2.0, _BOTH_SETS,
        ),
        Rule(
            "four_of_five_middle",
            "four of five points beyond one sigma on one side",
            "side", 4, 5, 1.0, _BOTH_SETS,
        ),
        Rule(
            "eight_one_side",
            "eight points running on one side of the centre",
            "side", 8, 8, 0.0, (WESTERN_ELECTRIC,),
        ),
        Rule("nine_one_side", "nine points running on one side of the centre", "side", 9, 9, 0.0, (NELSON,)),
        Rule("six_trend", "six points running, each higher or each lower", "trend", 6, 6, 0.0, (NELSON,)),
        Rule(
            "fourteen_alternating",
            "fourteen points running, up and down in turn",
            "alternating", 14, 14, 0.0, (NELSON,),
        ),
        Rule(
            "fifteen_inner",
            "fifteen points running within one sigma of the centre",
            "inner", 15, 15, 1.0, (NELSON,),
        ),
        Rule(
            "eight_both_sides",
            "eight points running beyond one sigma, on both sides",
            "both_sides", 8, 8, 1.0, (NELSON,),
        ),
    )
}  # fmt: skip


# The bits of a block are still taken from memory at hand, not asked of the system each time.
_BLOCK = 262_144
_SHORT = 32_768
_OVERLAP = max(rule.span for rule in RULES.values()) - 1
_NOWHERE = np.empty(0, dtype=np.intp)


def rule_set(name: str) -> tuple[str, ...]:
    """The keys of the rules in one set, "western_electric" or "nelson"."""
    keys = tuple(rule.key for rule in RULES.values() if name in rule.sets)
    if not keys:
        raise impossible("rule set", f"'{name}' is not one", nearest(name, _BOTH_SETS))
    return keys


def chosen(rules: Iterable[str] | None) -> tuple[Rule, ...]:
    """The rules of the given keys, all of them for None."""
    keys = tuple(RULES) if rules is None else tuple(rules)
    unknown = [key for key in keys if key not in RULES]
    if unknown:
        raise impossible("rules", f"'{unknown[0]}' is not a rule", nearest(unknown[0], tuple(RULES)))
    return tuple(RULES[key] for key in keys)


@dataclass(frozen=True, slots=True, eq=False)
class Completed:
    """Places, from 0, of the points that complete one rule upwards, downwards or across both sides."""

    up: Places
    down: Places
    both: Places


def completions(
    values: npt.ArrayLike, limits: Limits, *, rules: Iterable[str] | None = None
) -> Mapping[str, Completed]:
    """Per rule, the places of the points that complete it; all rules for `rules=None`.

    Linear in the number of values: patterns are found by shifting the bits of comparisons. Nothing is flagged
    when the limits are not usable (constant baseline). Raises InputError for infinite values or an unknown
    rule.
    """
    series = as_series(values)
    picked = chosen(rules)
    found: list[list[Places]] = []
    for start in range(0, series.size if limits.usable else 0, _BLOCK):
        first = max(0, start - _OVERLAP)
        block = series[first : start + _BLOCK]
        marks = _Marks(block, limits, picked)
        places = places_of([bits for rule in picked for bits in marks.of(rule)], block.size)
        # What lies before the block was found with the block before.
        found.append(
            [more[np.searchsorted(more, start - first) :] + first for more in places] if start else places
        )
    sides = iter(_joined(found, 3 * len(picked)))
    return {rule.key: Completed(next(sides), next(sides), next(sides)) for rule in picked}


def _joined(found: list[list[Places]], sides: int) -> list[Places]:
    """The places of each side, of all blocks together."""
    if not found:
        return [_NOWHERE] * sides
    return found[0] if len(found) == 1 else [np.concatenate(parts) for parts in zip(*found, strict=True)]


class _Marks:
    """The comparisons of a series, each made once and shared by the rules: one bit per point.

    Bit 0 is the first point, so that a shift to the left lays each point over those after it.
    """

    def __init__(self, series: Floats, limits: Limits, rules: Iterable[Rule]) -> None:
        self._limits = limits
        self._lines = {rule.key: self._lines_of(rule) for rule in rules}
        highs = sorted({line for above, _ in self._lines.values() for line in above})
        lows = sorted({line for _, below in self._lines.values() for line in below})
        marks = compared(series, highs, lows)
        self._above = dict(zip(highs, marks, strict=False))
        self._below = dict(zip(lows, marks[len(highs) :], strict=False))
        # The first point has none before it.
        self._rising, self._falling = (later(bits, 1) for bits in marks[-2:])

    def _lines_of(self, rule: Rule) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """The lines that points are to be above and below, for one rule."""
        high, low = self._limits.line(rule.beyond), self._limits.line(-rule.beyond)
        match rule.pattern:
            case "limit":
                return (self._limits.upper,), (self._limits.lower,)
            case "side" | "both_sides":
                return (high,), (low,)
            case "inner":
                return (low,), (high,)
            case "trend" | "alternating":
                return (), ()

    def of(self, rule: Rule) -> tuple[Bits, Bits, Bits]:
        """Where the rule is completed: upwards, downwards, on both sides."""
        above, below = self._lines[rule.key]
        high, low = (self._above[above[0]], self._below[below[0]]) if above else (self._rising, self._falling)
        match rule.pattern:
            case "limit" | "side":
                return at_least(high, rule.need, rule.span), at_least(low, rule.need, rule.span), 0
            case "trend":
                return running(high, rule.span - 1), running(low, rule.span - 1), 0
            case "alternating":
                return 0, 0, running((high & later(low, 1)) | (low & later(high, 1)), rule.span - 2)
            case "inner":
                return 0, 0, running(high & low, rule.span)
            case "both_sides":
                one_side = running(high, rule.span) | running(low, rule.span)
                return 0, 0, running(high | low, rule.span) & ~one_side


def compared(series: Floats, highs: Sequence[float], lows: Sequence[float]) -> list[Bits]:
    """Which points are above each high line, below each low one, below and above their next, as bits."""
    above, below = np.array(highs).reshape(-1, 1), np.array(lows).reshape(-1, 1)
    masks = np.empty((above.size + below.size + 2, min(CHUNK, series.size)), dtype=np.bool_)
    packed = np.zeros((len(masks), 8 * _words(series.size)), dtype=np.uint8)
    # Chunk by chunk, so that the values are read once.
    for at in range(0, series.size, CHUNK):
        values, after = series[at : at + CHUNK], series[at + 1 : at + CHUNK + 1]
        chunk = masks[:, : values.size]
        np.greater(values, above, out=chunk[: above.size])
        np.less(values, below, out=chunk[above.size : -2])
        np.greater(after, values[: after.size], out=chunk[-2, : after.size])
        np.less(after, values[: after.size], out=chunk[-1, : after.size])
        chunk[-2:, after.size :] = False
        packed[:, at // 8 : (at + values.size + 7) // 8] = np.packbits(chunk, axis=1, bitorder="little")
    if series.size > _SHORT:
        return list(packed.view(np.uint64))
    octets, size = packed.tobytes(), packed.shape[1]
    return [int.from_bytes(octets[at : at + size], "little") for at in range(0, len(octets), size)]


def _words(bits: int) -> int:
    return (bits + 63) // 64


def places_of(rows: Sequence[Bits], points: int) -> list[Places]:
    """Per row of so many bits, the places of those that are set, in order."""
    filled = [place for place, bits in enumerate(rows) if not isinstance(bits, int) or bits]
    size = _words(points)
    octets = [
        bits.to_bytes(8 * size, "little") if isinstance(bits, int) else bits.data
        for bits in (rows[place] for place in filled)
    ]
    words = np.frombuffer(b"".join(octets), dtype=np.uint64)
    # Few points complete a rule: only words with a bit in them are taken apart.
    kept = np.flatnonzero(words != 0)
    inside = np.flatnonzero(np.unpackbits(words[kept].view(np.uint8), bitorder="little").view(np.bool_))
    places = 64 * kept[inside >> 6] + (inside & 63)
    edges = places.searchsorted(64 * size * np.arange(len(filled) + 1)).tolist()
    places %= 64 * size
    found = [_NOWHERE] * len(rows)
    for place, edge, after in zip(filled, edges[:-1], edges[1:], strict=True):
        found[place] = places[edge:after]
    return found


def later(marks: Bits, points: int) -> Bits:
    """Each mark laid over the point so many later, 63 at most."""
    if isinstance(marks, int):
        return marks << points
    moved = marks << points
    moved[1:] |= marks[:-1] >> (64 - points)
    return moved


def running(marks: Bits, length: int) -> Bits:
    """Where `length` set bits in a row end; doubling, so log2(length) shifts."""
    reached = 1
    while reached < length:
        step = min(reached, length - reached)
        marks = marks & later(marks, step)
        reached += step
    return marks


def at_least(marks: Bits, need: int, span: int) -> Bits:
    """Where a set bit is the last of at least `need` set ones among `span`."""
    if need == span:
        return running(marks, span)
    # Per number of holes allowed: where the points looked at so far have no more of them.
    allowed = [marks] * (span - need + 1)
    for back in range(1, span):
        before = later(marks, back)
        for holes in range(span - need, 0, -1):
            allowed[holes] = (allowed[holes] & before) | allowed[holes - 1]
        allowed[0] = allowed[0] & before
    return allowed[-1]
