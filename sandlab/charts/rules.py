"""The Western Electric and Nelson rules: which points complete a pattern, and which points make it up.

A rule flags the point that completes its pattern. Comparisons are strict, with the line as drawn: a point on
a line is beyond nothing. A missing test (NaN) ends runs and trends; equal neighbours end trends and
alternation. Two of the first two points beyond two sigmas do signal: no third point could undo it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import Limits
from sandlab.charts.estimates import as_series
from sandlab.charts.normal import Floats
from sandlab.errors import impossible, nearest

Places = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]
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

# Small enough that a chunk and its masks stay in the processor's cache.
_CHUNK = 32_768
_OVERLAP = max(rule.span for rule in RULES.values()) - 1


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

    Linear in the number of values, in chunks of numpy comparisons. Raises InputError for infinite values or
    an unknown rule. Nothing is flagged when the limits are not usable (constant baseline).
    """
    series = as_series(values)
    picked = chosen(rules)
    found: dict[str, tuple[list[Places], ...]] = {rule.key: ([], [], []) for rule in picked}
    last = series.size if limits.usable else 0
    for start in range(0, last, _CHUNK):
        first = max(0, start - _OVERLAP)
        masks = _Masks(series[first : start + _CHUNK], limits)
        for rule in picked:
            for places, mask in zip(found[rule.key], masks.of(rule), strict=True):
                if mask is not None:
                    places.append(np.flatnonzero(mask[start - first :]) + start)
    return {key: Completed(*(_joined(parts) for parts in sides)) for key, sides in found.items()}


def _joined(parts: list[Places]) -> Places:
    return np.concatenate(parts) if parts else np.empty(0, dtype=np.intp)


class _Masks:
    """The comparisons of one chunk, each made once and shared by the rules."""

    def __init__(self, series: Floats, limits: Limits) -> None:
        self._series, self._limits = series, limits
        self._kept: dict[tuple[str, float], Mask] = {}

    def of(self, rule: Rule) -> tuple[Mask | None, Mask | None, Mask | None]:
        """Where the rule is completed: upwards, downwards, on both sides."""
        match rule.pattern:
            case "limit":
                return self._series > self._limits.upper, self._series < self._limits.lower, None
            case "side":
                high, low = self._beyond("above", rule.beyond), self._beyond("below", rule.beyond)
                return at_least(high, rule.need, rule.span), at_least(low, rule.need, rule.span), None
            case "trend":
                rising, falling = self._step("rising"), self._step("falling")
                return running(rising, rule.span - 1), running(falling, rule.span - 1), None
            case "alternating":
                return None, None, running(self._turns(), rule.span - 2)
            case "inner":
                return None, None, running(self._inside(rule.beyond), rule.span)
            case "both_sides":
                return None, None, self._both_sides(rule)

    def _beyond(self, side: Literal["above", "below"], sigmas: float) -> Mask:
        key = (side, sigmas)
        if key not in self._kept:
            if side == "above":
                self._kept[key] = self._series > self._limits.line(sigmas)
            else:
                self._kept[key] = self._series < self._limits.line(-sigmas)
        return self._kept[key]

    def _step(self, side: Literal["rising", "falling"]) -> Mask:
        key = (side, 0.0)
        if key not in self._kept:
            mask = np.zeros(self._series.size, dtype=np.bool_)
            compare = np.greater if side == "rising" else np.less
            compare(self._series[1:], self._series[:-1], out=mask[1:])
            self._kept[key] = mask
        return self._kept[key]

    def _turns(self) -> Mask:
        rising, falling = self._step("rising"), self._step("falling")
        turns = np.zeros(rising.size, dtype=np.bool_)
        turns[1:] = (rising[1:] & falling[:-1]) | (falling[1:] & rising[:-1])
        return turns

    def _inside(self, sigmas: float) -> Mask:
        limits = self._limits
        return (self._series > limits.line(-sigmas)) & (self._series < limits.line(sigmas))

    def _both_sides(self, rule: Rule) -> Mask:
        high, low = self._beyond("above", rule.beyond), self._beyond("below", rule.beyond)
        outside = running(high | low, rule.span)
        return outside & ~running(high, rule.span) & ~running(low, rule.span)


def running(mask: Mask, length: int) -> Mask:
    """Where `length` true values in a row end; doubling, so log2(length) passes."""
    result, reached = mask, 1
    while reached < length:
        step = min(reached, length - reached)
        longer = np.zeros(mask.size, dtype=np.bool_)
        np.logical_and(result[step:], result[:-step], out=longer[step:])
        result, reached = longer, reached + step
    return result


def at_least(mask: Mask, need: int, span: int) -> Mask:
    """Where a true value is the last of at least `need` true ones among `span`."""
    if need == span:
        return running(mask, span)
    total = mask.astype(np.uint8)
    for back in range(1, min(span, mask.size)):
        total[back:] += mask[:-back]
    return mask & (total >= need)
