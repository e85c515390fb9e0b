"""Signals: a completed rule with its points and its reason in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import Limits
from sandlab.charts.estimates import as_series
from sandlab.charts.normal import Floats
from sandlab.charts.rules import RULES, Rule, Side, completions
from sandlab.quantities import format_number


@dataclass(frozen=True, slots=True)
class Signal:
    """One completed rule: the point that completes it, the points that make it up, and why in words."""

    rule: str
    index: int
    members: tuple[int, ...]
    side: Side
    alarm: bool
    reason: str


def signals(
    values: npt.ArrayLike,
    limits: Limits,
    *,
    rules: Iterable[str] | None = None,
    alarms: Iterable[str] | None = None,
    decimals: int = 2,
    unit: str = "",
) -> tuple[Signal, ...]:
    """Every completed rule in order of time, with its reason in words.

    `rules` are the keys to look for, all for None; `alarms` are the keys that raise an alarm, for None those
    that do by default (a point beyond a limit). Numbers in the reasons carry `decimals` and `unit`.
    """
    series = as_series(values)
    alarming = {rule.key for rule in RULES.values() if rule.alarms} if alarms is None else set(alarms)
    speaker = _Speaker(limits, decimals, unit)
    found = []
    for key, completed in completions(series, limits, rules=rules).items():
        rule = RULES[key]
        sides: tuple[tuple[Side, npt.NDArray[np.intp]], ...] = (
            ("up", completed.up),
            ("down", completed.down),
            ("both", completed.both),
        )
        for side, places in sides:
            for index in places.tolist():
                members = _members(rule, side, index, series, limits)
                reason = speaker.reason(rule, side, series, members)
                found.append(Signal(key, index, members, side, key in alarming, reason))
    order = {key: place for place, key in enumerate(RULES)}
    return tuple(sorted(found, key=lambda signal: (signal.index, order[signal.rule])))


def _members(rule: Rule, side: Side, index: int, series: Floats, limits: Limits) -> tuple[int, ...]:
    """The points of the window that lie in the pattern."""
    window = range(max(0, index - rule.span + 1), index + 1)
    if rule.need == rule.span:
        return tuple(window)
    if side == "up":
        line = limits.line(rule.beyond)
        return tuple(place for place in window if series[place] > line)
    line = limits.line(-rule.beyond)
    return tuple(place for place in window if series[place] < line)


@dataclass(frozen=True, slots=True)
class _Speaker:
    """Puts a completed rule into one sentence."""

    limits: Limits
    decimals: int
    unit: str

    def number(self, value: float, more: int = 0) -> str:
        """`value` with its decimals, and so many more, and its unit."""
        text = format_number(value, self.decimals + more)
        return f"{text} {self.unit}" if self.unit else text

    def reason(self, rule: Rule, side: Side, series: Floats, members: tuple[int, ...]) -> str:
        """Why the rule is completed."""
        limits, last = self.limits, float(series[members[-1]])
        place = "above" if side == "up" else "below"
        count = len(members)
        match rule.pattern:
            case "limit":
                limit = limits.upper if side == "up" else limits.lower
                name = "upper" if side == "up" else "lower"
                more = self._more(last, limit)
                told = f"{self.number(last, more)} is {place}"
                return f"{told} the {name} control limit {self.number(limit, more)}"
            case "side" if rule.beyond == 0.0:
                return f"{count} tests running are {place} the centre {self.number(limits.centre)}"
            case "side":
                line = limits.line(rule.beyond if side == "up" else -rule.beyond)
                return f"{count} of {rule.span} tests are {place} {self.number(line)} ({self._sigmas(rule)})"
            case "trend":
                word = "risen" if side == "up" else "fallen"
                first = self.number(float(series[members[0]]))
                return f"{count} tests running have {word}, from {first} to {self.number(last)}"
            case "alternating":
                return f"{count} tests running go up and down in turn"
            case "inner":
                return f"{count} tests running lie between {self._band(rule)}: the spread is less than it was"
            case "both_sides":
                return f"{count} tests running lie on both sides, none between {self._band(rule)}"

    def _more(self, value: float, limit: float) -> int:
        """Decimals to add until a value and the limit it is beyond do not read the same."""
        apart = (more for more in range(4) if self.number(value, more) != self.number(limit, more))
        return next(apart, 0)

    def _sigmas(self, rule: Rule) -> str:
        return f"{rule.beyond:g} sigma from the centre"

    def _band(self, rule: Rule) -> str:
        low, high = self.limits.line(-rule.beyond), self.limits.line(rule.beyond)
        return f"{format_number(low, self.decimals)} and {self.number(high)}"
