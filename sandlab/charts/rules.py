"""The Western Electric and Nelson rules: which points complete a pattern, and which points make it up.

A rule flags the point that completes its pattern. Comparisons are strict, with the line as drawn: a point on
a line is beyond nothing. A missing test (NaN) ends runs and trends; equal neighbours end trends and
alternation. Two of the first two points beyond two sigmas do signal: no third point could undo it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
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
_FEW_WORDS = 512
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
    plan = _plan(None if rules is None else tuple(rules))
    found: list[list[Places]] = []
    for start in range(0, series.size if limits.usable else 0, _BLOCK):
        first = max(0, start - _OVERLAP)
        block = series[first : start + _BLOCK]
        marks = _Marks(block, limits, plan.levels)
        places = places_of([marks.of(rule) for rule in plan.rules], plan.sides, block.size)
        # What lies before the block was found with the block before.
        found.append(
            [more[np.searchsorted(more, start - first) :] + first for more in places] if start else places
        )
    sides = iter(_joined(found, sum(plan.sides)))
    return {
        rule.key: Completed(next(sides), next(sides), _NOWHERE)
        if count == 2
        else Completed(_NOWHERE, _NOWHERE, next(sides))
        for rule, count in zip(plan.rules, plan.sides, strict=True)
    }


@dataclass(frozen=True, slots=True)
class _Plan:
    """What to look for: rules, on how many sides each, and the lines they need, in sigmas.

    Upward points are above such a line, downward ones below its mirror image.
    """

    rules: tuple[Rule, ...]
    sides: tuple[int, ...]
    levels: tuple[float, ...]


@lru_cache(maxsize=64)
def _plan(keys: tuple[str, ...] | None) -> _Plan:
    rules = chosen(keys)
    sides = tuple(2 if rule.pattern in ("limit", "side", "trend") else 1 for rule in rules)
    beyond = {rule.beyond for rule in rules if rule.pattern in ("side", "both_sides")}
    return _Plan(rules, sides, (*beyond, *{-rule.beyond for rule in rules if rule.pattern == "inner"}))


def _joined(found: list[list[Places]], sides: int) -> list[Places]:
    """The places of each side, of all blocks together."""
    if not found:
        return [_NOWHERE] * sides
    return found[0] if len(found) == 1 else [np.concatenate(parts) for parts in zip(*found, strict=True)]


class _Marks:
    """The comparisons of a series, each made once and shared by the rules: one bit per point.

    Bit 0 is the first point, so that a shift to the left lays each point over those after it. The bits of a
    pattern downwards follow those upwards, with more zeros between than any rule spans: one shift for both.
    """

    def __init__(self, series: Floats, limits: Limits, levels: Sequence[float]) -> None:
        self._half = _words(series.size + _OVERLAP)
        highs = [limits.upper, *(limits.line(level) for level in levels)]
        lows = [limits.lower, *(limits.line(-level) for level in levels)]
        self._limit, *sides, steps = compared(series, highs, lows)
        self._sides = dict(zip(levels, sides, strict=True))
        self._steps = later(steps, 1)

    def of(self, rule: Rule) -> Bits:
        """Where the rule is completed: upwards and then downwards, or on both sides."""
        match rule.pattern:
            case "limit":
                return self._limit
            case "side":
                return at_least(self._sides[rule.beyond], rule.need, rule.span)
            case "trend":
                return running(self._steps, rule.span - 1)
            case "alternating":
                rising, falling = self._apart(self._steps)
                return running((rising & later(falling, 1)) | (falling & later(rising, 1)), rule.span - 2)
            case "inner":
                above, below = self._apart(self._sides[-rule.beyond])
                return running(above & below, rule.span)
            case "both_sides":
                outer = self._sides[rule.beyond]
                high, low = self._apart(outer)
                up, down = self._apart(running(outer, rule.span))
                return running(high | low, rule.span) & ~(up | down)

    def _apart(self, marks: Bits) -> tuple[Bits, Bits]:
        """The bits upwards and those downwards."""
        if isinstance(marks, int):
            return marks & ((1 << 64 * self._half) - 1), marks >> 64 * self._half
        return marks[: self._half], marks[self._half :]


def compared(series: Floats, highs: Sequence[float], lows: Sequence[float]) -> list[Bits]:
    """Per pair of lines, which points are above the high one, then which are below the low one, as bits.

    The last row says of which points the next is above them, then of which it is below.
    """
    above, below = np.array([highs, lows])[:, :, None]
    masks = np.empty((len(highs) + 1, 2, min(CHUNK, series.size)), dtype=np.bool_)
    packed = np.zeros((len(masks), 2, 8 * _words(series.size + _OVERLAP)), dtype=np.uint8)
    # Chunk by chunk, so that the values are read once.
    for at in range(0, series.size, CHUNK):
        values, after = series[at : at + CHUNK], series[at + 1 : at + CHUNK + 1]
        chunk, before = masks[:, :, : values.size], values[: after.size]
        np.greater(values, above, out=chunk[:-1, 0])
        np.less(values, below, out=chunk[:-1, 1])
        np.greater(after, before, out=chunk[-1, 0, : after.size])
        np.less(after, before, out=chunk[-1, 1, : after.size])
        chunk[-1, :, after.size :] = False
        packed[:, :, at // 8 : (at + values.size + 7) // 8] = np.packbits(chunk, axis=2, bitorder="little")
    if series.size > _SHORT:
        return list(packed.reshape(len(masks), -1).view(np.uint64))
    octets, size = packed.tobytes(), packed[0].size
    return [int.from_bytes(octets[at : at + size], "little") for at in range(0, len(octets), size)]


def _words(bits: int) -> int:
    return (bits + 63) // 64


def places_of(rows: Sequence[Bits], sides: Sequence[int], points: int) -> list[Places]:
    """Per row, and per side of it, one or two of so many points, the places of its set bits in order."""
    size = _words(points + _OVERLAP)
    octets = [
        bits.to_bytes(8 * size * count, "little") if isinstance(bits, int) else bits.data
        for bits, count in zip(rows, sides, strict=True)
    ]
    words = np.frombuffer(b"".join(octets), dtype=np.uint64)
    # Few points complete a rule: of many words only those with a bit in them are taken apart.
    kept = (words != 0).nonzero()[0] if words.size > _FEW_WORDS else None
    some = words if kept is None else words[kept]
    places = np.unpackbits(some.view(np.uint8), bitorder="little").view(np.bool_).nonzero()[0]
    if kept is not None:
        places = 64 * kept[places >> 6] + (places & 63)
    edges = places.searchsorted(np.arange(0, 64 * words.size + 1, 64 * size)).tolist()
    places %= 64 * size
    return [places[edge:after] for edge, after in pairwise(edges)]


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
