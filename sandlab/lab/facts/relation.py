"""Answers about two properties against each other."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import Facts
from sandlab.lab.facts.charts import ChartFacts


class AxisFacts(Facts):
    """One of the two properties."""

    property: str
    label: str
    unit: str
    decimals: int


class PairFacts(Facts):
    """Both values of one moment; `side` is 1 above the expected band, -1 below it, 0 inside."""

    at: datetime
    sample: str
    by: str
    x: float
    y: float
    baseline: bool
    side: int


class BandFacts(Facts):
    """The expected y and the band of single tests, at ascending x."""

    x: tuple[float, ...]
    level: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


class RelationFacts(Facts):
    """How `up` follows `across`: the line fitted over the baseline, its band, and the pairs of tests.

    None where no line could be fitted; `words` then say why. Slopes are per unit of `across`.
    """

    up: AxisFacts
    across: AxisFacts
    words: str
    origin: str
    slope: float | None
    slope_error: float | None
    intercept: float | None
    sigma: float | None
    explained: float | None
    count: int
    confidence: float
    band: BandFacts | None
    pairs: tuple[PairFacts, ...]


class BesideFacts(Facts):
    """Two charts on one time line, and how the first property follows the second.

    `relation` is None where one of them has no values of its own to be paired, such as the set together.
    """

    chart: ChartFacts
    beside: ChartFacts
    relation: RelationFacts | None
