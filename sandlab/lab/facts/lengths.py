"""Answers about charts on paper: how long they run, how they are to be set, their factors."""

from __future__ import annotations

from sandlab.lab.facts.base import Facts


class RunLengthFacts(Facts):
    """How many tests a chart runs until it alarms: the mean, the median, and 5 and 95 % of runs.

    `settings` are those of the chart, also those that were solved for; the shares are None where only the
    mean is known; `error` is the standard error of a simulated mean, 0 where equations were solved.
    """

    chart: str
    settings: dict[str, float]
    rules: tuple[str, ...]
    mean: float
    median: float | None
    low: float | None
    high: float | None
    error: float
    words: str


class DesignFacts(Facts):
    """A chart for small shifts as designed from a wish, and what it reaches, in tests.

    Where the wish is not `possible`, `affordable` tests between false alarms would do; None if nothing would.
    """

    chart: str
    settings: dict[str, float]
    possible: bool
    run_length: float
    detection: float
    detection_ninetieth: float
    affordable: float | None
    words: str


class FactorRowFacts(Facts):
    """The constants of subgroups of one size, and the factors of limits drawn with them."""

    size: int
    d2: float
    d3: float
    c4: float
    range_lower: float
    range_upper: float
    deviation_lower: float
    deviation_upper: float


class FactorsFacts(Facts):
    """Constants and factors by size of the subgroup, for limits `width` standard deviations wide."""

    width: float
    rows: tuple[FactorRowFacts, ...]
