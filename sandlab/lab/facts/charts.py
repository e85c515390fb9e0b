"""Answers about charts: limits, points, signals, events."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from sandlab.lab.facts.base import ChartState, Facts

ChartKind = Literal["individuals", "ewma", "cusum", "residual", "wide", "subgroup"]


class SignalFacts(Facts):
    """One signal of a chart: what was seen, where, and whether it raises an alarm."""

    rule: str
    alarm: bool
    at: datetime | None
    index: int
    members: tuple[int, ...]
    side: str
    reason: str


class BaselineFacts(Facts):
    """The frozen limits of a chart and where they came from; `excluded` are the samples left out."""

    baseline: str
    frozen_by: str
    frozen_at: datetime | None
    reason: str
    window_from: datetime | None
    window_to: datetime | None
    excluded: tuple[str, ...]
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

    at: datetime | None
    value: float
    sample: str
    by: str
    corrected: bool
    flags: tuple[str, ...]


class ChangeFacts(Facts):
    """A change that lasts to the last test: start with the range it may have begun in, size with 95 % limits.

    Times are given as moments, or as numbers of tests from 1 where the tests have no times.
    """

    what: str
    since: str
    amount: str
    sure: str
    began_at: datetime | None
    began_from: datetime | None
    began_to: datetime | None
    began_test: tuple[int, int, int] | None
    size: float
    size_low: float
    size_high: float


class SpanFacts(Facts):
    """A stretch of time from which limits were once frozen."""

    window_from: datetime
    window_to: datetime
    frozen_by: str
    reason: str
    count: int


class DrawnFacts(Facts):
    """What is drawn where it is not the tests themselves: a value per point, its limits, what it promises.

    `lower` and `upper` are the final limits; where `limits_vary`, those of each point stand in `lower_at` and
    `upper_at`. None is a point without a value.
    """

    title: str
    unit: str
    decimals: int
    values: tuple[float | None, ...]
    centre: float | None
    lower: float | None
    upper: float | None
    limits_vary: bool
    lower_at: tuple[float | None, ...]
    upper_at: tuple[float | None, ...]
    design: str


class ForecastFacts(Facts):
    """The coming tests if nothing is done, at each time the expected one and the band of `confidence`.

    `basis` is "drift" where one goes on, "step" around a new level, else "level"; `words` say it.
    """

    basis: str
    times: tuple[datetime, ...]
    level: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    confidence: float
    words: str


class SubgroupFacts(Facts):
    """What a chart of subgroups rests on: sizes by point, spread inside and between, chart of spreads.

    `sigma_between` is None where subgroups are no repeats of one sample; `basis` what `sigma` comes from.
    """

    subgroups: int
    count: int
    sizes: tuple[int, ...]
    centre: float
    sigma: float
    sigma_between: float | None
    basis: str
    spread: DrawnFacts
    warnings: tuple[str, ...]


class ChartFacts(Facts):
    """One control chart: the words first, then limits, points, signals and events for drawing.

    `kind_words` says what the chosen kind of chart shows; `wrong` how often all charts in use are wrong;
    `proposal` is not empty when the baseline no longer describes the process; `kinds` are those it has.
    """

    property: str
    label: str
    short: str
    unit: str
    decimals: int
    kind: ChartKind
    state: ChartState
    words: str
    kind_words: str
    wrong: str
    proposal: str
    change: ChangeFacts | None
    baseline: BaselineFacts | None
    baselines: tuple[SpanFacts, ...]
    target: float | None
    tolerance: tuple[float | None, float | None] | None
    reaction: tuple[float, float] | None
    points: tuple[PointFacts, ...]
    drawn: DrawnFacts | None
    signals: tuple[SignalFacts, ...]
    events: tuple[EventFacts, ...]
    forecast: ForecastFacts | None = None
    subgroup: SubgroupFacts | None = None
    kinds: tuple[ChartKind, ...] = ()


class PropertyFacts(Facts):
    """One row of the overview; `brief` says the state in a few words, `words` in full."""

    property: str
    label: str
    short: str
    unit: str
    decimals: int
    state: ChartState
    words: str
    brief: str
    last_value: float | None
    last_text: str
    last_at: datetime | None
    recent: tuple[float, ...]
    centre: float | None
    lower: float | None
    upper: float | None


class OverviewFacts(Facts):
    """All properties, what needs attention first; `wrong` says how often all charts in use are wrong."""

    now: datetime
    wrong: str
    properties: tuple[PropertyFacts, ...]
