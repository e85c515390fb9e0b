"""Answers about charts: limits, points, signals, events."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import ChartState, Facts


class SignalFacts(Facts):
    """One signal of a chart: what was seen, where, and whether it raises an alarm."""

    rule: str
    alarm: bool
    at: datetime
    index: int
    members: tuple[int, ...]
    side: str
    reason: str


class BaselineFacts(Facts):
    """The frozen limits of a chart and where they came from."""

    baseline: str
    frozen_by: str
    frozen_at: datetime
    reason: str
    window_from: datetime
    window_to: datetime
    count: int
    centre: float
    lower: float
    upper: float
    sigma: float
    sigma_moving_range: float
    lag1: float
    width: float


class EventFacts(Facts):
    """A note on the time line."""

    at: datetime
    kind: str
    text: str
    by: str


class PointFacts(Facts):
    """One plotted result; `corrected` when it is not the first value saved."""

    at: datetime
    value: float
    sample: str
    by: str
    corrected: bool
    flags: tuple[str, ...]


class ChartFacts(Facts):
    """One control chart: the words first, then limits, points, signals and events for drawing."""

    property: str
    label: str
    short: str
    unit: str
    decimals: int
    state: ChartState
    words: str
    baseline: BaselineFacts | None
    target: float | None
    tolerance: tuple[float, float] | None
    reaction: tuple[float, float] | None
    points: tuple[PointFacts, ...]
    signals: tuple[SignalFacts, ...]
    events: tuple[EventFacts, ...]


class PropertyFacts(Facts):
    """One row of the overview."""

    property: str
    label: str
    short: str
    unit: str
    decimals: int
    state: ChartState
    words: str
    last_value: float | None
    last_text: str
    last_at: datetime | None
    recent: tuple[float, ...]
    lower: float | None
    upper: float | None


class OverviewFacts(Facts):
    """All properties, what needs attention first."""

    now: datetime
    properties: tuple[PropertyFacts, ...]
