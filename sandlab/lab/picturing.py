"""A chart as shapes in data units, ready to be drawn as cells or SVG."""

from __future__ import annotations

from typing import Literal

import numpy as np

from sandlab.drawing import BaselineSpan, ChartPicture, EventMark, Flag, Outlook
from sandlab.lab.facts import ChartFacts, DrawnFacts, ForecastFacts
from sandlab.lab.leaving import reason_of
from sandlab.lab.series import Times, microseconds

_SIDES: dict[str, Literal[-1, 0, 1]] = {"up": 1, "down": -1}
# Tests without times are drawn an hour apart.
_APART_US = 3_600_000_000


def picture(facts: ChartFacts, *, mark: str = ".") -> ChartPicture:
    """The chart as shapes; a pause between tests shows by their times."""
    events = tuple(EventMark(microseconds(one.at), one.text) for one in facts.events)
    spans = tuple(
        BaselineSpan(
            microseconds(one.window_from),
            microseconds(one.window_to),
            f"baseline by {one.frozen_by}, {one.count} tests",
        )
        for one in facts.baselines
    )
    flags = _flags(facts, but="spread")
    if facts.drawn is not None:
        return _other(facts, facts.drawn, flags, events, spans, mark)
    baseline = facts.baseline
    return ChartPicture(
        times=point_times(facts),
        values=np.array([point.value for point in facts.points], dtype=np.float64),
        title=facts.label,
        unit=facts.unit,
        decimals=facts.decimals,
        decimal_mark=mark,
        centre=baseline.centre if baseline else None,
        lower=baseline.lower if baseline else None,
        upper=baseline.upper if baseline else None,
        zones=zones(facts),
        tolerance_low=facts.tolerance[0] if facts.tolerance else None,
        tolerance_high=facts.tolerance[1] if facts.tolerance else None,
        reaction_low=facts.reaction[0] if facts.reaction else None,
        reaction_high=facts.reaction[1] if facts.reaction else None,
        flags=flags,
        excluded=excluded(facts),
        outlook=None if facts.forecast is None else _outlook(facts.forecast),
        events=events,
        baselines=spans,
    )


def zones(facts: ChartFacts) -> tuple[float, ...]:
    """The levels one and two standard deviations from the centre."""
    own = facts.baseline
    if own is None:
        return ()
    levels = (own.centre + step * own.sigma for step in (-2.0, -1.0, 1.0, 2.0))
    return tuple(level for level in levels if own.lower < level < own.upper)


def excluded(facts: ChartFacts) -> tuple[int, ...]:
    """The points left out of limits: of those in force, or of all that will be frozen."""
    out = frozenset(facts.baseline.excluded) if facts.baseline else frozenset()
    return tuple(place for place, one in enumerate(facts.points) if one.sample in out or reason_of(one.flags))


def _outlook(facts: ForecastFacts) -> Outlook:
    times = np.array([microseconds(one) for one in facts.times], dtype=np.int64)
    rows = (np.array(row, dtype=np.float64) for row in (facts.level, facts.low, facts.high))
    return Outlook(times, *rows)


def spread_picture(facts: ChartFacts, *, mark: str = ".") -> ChartPicture | None:
    """The spread inside each subgroup as shapes, to be drawn below the means; None on other charts."""
    if facts.subgroup is None:
        return None
    return _other(facts, facts.subgroup.spread, _flags(facts, but="subgroup"), (), (), mark)


def _flags(facts: ChartFacts, *, but: str) -> tuple[Flag, ...]:
    """The signals to be marked, without those of the other chart of a pair."""
    return tuple(
        Flag(one.index, _SIDES.get(one.side, 0), one.alarm, one.members)
        for one in facts.signals
        if one.rule != but
    )


def _other(
    facts: ChartFacts,
    drawn: DrawnFacts,
    flags: tuple[Flag, ...],
    events: tuple[EventMark, ...],
    spans: tuple[BaselineSpan, ...],
    mark: str,
) -> ChartPicture:
    """A chart of something computed from the tests, with its final limits."""
    return ChartPicture(
        times=point_times(facts),
        values=np.array([np.nan if one is None else one for one in drawn.values], dtype=np.float64),
        title=drawn.title,
        unit=drawn.unit,
        decimals=drawn.decimals,
        decimal_mark=mark,
        centre=drawn.centre,
        lower=drawn.lower,
        upper=drawn.upper,
        flags=flags,
        excluded=excluded(facts),
        events=events,
        baselines=spans,
    )


def point_times(facts: ChartFacts) -> Times:
    """The time of each point."""
    times = [
        place * _APART_US if one.at is None else microseconds(one.at)
        for place, one in enumerate(facts.points)
    ]
    return np.array(times, dtype=np.int64)
