"""A chart as shapes in data units, ready to be drawn as cells or SVG."""

from __future__ import annotations

from typing import Literal

import numpy as np

from sandlab.drawing import BaselineSpan, ChartPicture, EventMark, Flag
from sandlab.lab.facts import ChartFacts, DrawnFacts
from sandlab.lab.series import Times, microseconds

_SIDES: dict[str, Literal[-1, 0, 1]] = {"up": 1, "down": -1}
# Tests without times are drawn an hour apart.
_APART_US = 3_600_000_000


def picture(facts: ChartFacts, *, mark: str = ".") -> ChartPicture:
    """The chart as shapes; a pause between tests shows by their times."""
    events = tuple(EventMark(microseconds(one.at), one.text) for one in facts.events)
    spans = tuple(
        BaselineSpan(microseconds(one.window_from), microseconds(one.window_to)) for one in facts.baselines
    )
    flags = tuple(Flag(one.index, _SIDES.get(one.side, 0), one.alarm, one.members) for one in facts.signals)
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
        tolerance_low=facts.tolerance[0] if facts.tolerance else None,
        tolerance_high=facts.tolerance[1] if facts.tolerance else None,
        reaction_low=facts.reaction[0] if facts.reaction else None,
        reaction_high=facts.reaction[1] if facts.reaction else None,
        flags=flags,
        events=events,
        baselines=spans,
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
