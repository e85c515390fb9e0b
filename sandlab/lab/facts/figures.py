"""Answers with the figures behind a chart: what its numbers rest on, how sure they are, what is proposed."""

from __future__ import annotations

from datetime import datetime

from sandlab.lab.facts.base import Facts
from sandlab.lab.facts.charts import BaselineFacts, ChangeFacts


class IndexFacts(Facts):
    """One capability index with its 95 % interval."""

    value: float
    low: float
    high: float


class CapabilityFacts(Facts):
    """How a property fits its tolerance, over the tests of its baseline; None where there is no such index.

    `quantile_ppk` needs no normal law; `effective_count` is how many independent tests the mean is worth;
    `outside` the share of tests beyond the tolerance; `warnings` what speaks against the indices.
    """

    count: int
    mean: float
    sigma_within: float
    sigma_overall: float
    effective_count: float
    cp: IndexFacts | None
    cpk: IndexFacts
    pp: IndexFacts | None
    ppk: IndexFacts
    cpm: IndexFacts | None
    quantile_ppk: float | None
    normal_chance: float
    outside: float
    warnings: tuple[str, ...]


class PromiseFacts(Facts):
    """What the limits of a baseline promise while nothing is wrong, counting points beyond them alone.

    `worth` is the number of independent tests that tell the spread as surely as the `count` of the baseline;
    `tests` lie between false alarms, with the 10 and 90 % of such baselines; the `first` false alarm of exact
    limits comes after so many, with 5 and 95 % of cases. Limits `guaranteed_width` wide would keep
    `guaranteed_tests` between false alarms for 9 of 10 such baselines.
    """

    count: int
    worth: int
    width: float
    tests: float
    tests_low: float
    tests_high: float
    first: float
    first_low: float
    first_high: float
    guaranteed_width: float
    guaranteed_tests: float


class ShapeFacts(Facts):
    """One shape of a change that lasts: a step, or a ramp that rises or falls by `size` a test.

    `test` is its first test, counted from 1 in the tests looked back on; `come_to` what it has come to by the
    last one, with its 95 % interval; `support` the gain in log-likelihood over no change.
    """

    shape: str
    test: int
    at: datetime | None
    size: float
    come_to: float
    come_to_low: float
    come_to_high: float
    support: float


class ResemblanceFacts(Facts):
    """How much each test repeats the one before, with 95 % intervals.

    `phi` is that of single tests; `signal_phi` that of the sand's own changes, `signal_share` their part of
    the variance, the rest being noise of testing; None where testing and sand cannot be told apart.
    """

    count: int
    phi: float
    phi_low: float
    phi_high: float
    signal_phi: float | None
    signal_share: float | None
    signal_share_low: float | None
    signal_share_high: float | None


class OutlookFacts(Facts):
    """When a limit is reached at the present rate: hours with their 90 % interval, None where never."""

    limit: float
    name: str
    course: str
    hours: float | None
    low: float | None
    high: float | None
    words: str


class TrendFacts(Facts):
    """A straight drift over the last tests: slope with its 90 % interval, and the way to each limit."""

    count: int
    per_hour: float
    per_hour_low: float
    per_hour_high: float
    level: float
    sure: bool
    outlook: tuple[OutlookFacts, ...]


class AlternativeFacts(Facts):
    """Another explanation of a swing: its groups, how far they lie apart, whether it explains the swing."""

    name: str
    groups: int
    difference: float
    explains: bool


class OverCorrectionFacts(Facts):
    """The search for the trace of over-correction: verdict, deepest trough, what else could explain it."""

    verdict: str
    tests_apart: int
    cycles: float
    correlation: float
    bound: float
    alternatives: tuple[AlternativeFacts, ...]
    missing: tuple[str, ...]


class RuleFacts(Facts):
    """One run rule: whether it alarms here, and tests from one false alarm to the next with and without."""

    rule: str
    alarms: bool
    tests_without: float | None
    tests_with: float
    words: str


class AlarmsFacts(Facts):
    """Days from one false alarm to the next over all charts in use, with 10 and 90 % of baselines.

    `days_exact` is what they would be if every limit were exact; `short` charts have few tests behind theirs.
    """

    charts: int
    days: float
    days_low: float
    days_high: float
    days_exact: float
    short: int


class SectionFacts(Facts):
    """One heading of the figures with its lines, as they are read."""

    title: str
    lines: tuple[str, ...]


class FiguresFacts(Facts):
    """Every figure behind one chart; `sections` says them in words. None is what could not be computed."""

    property: str
    label: str
    unit: str
    words: str
    baseline: BaselineFacts | None
    resemblance: ResemblanceFacts | None
    change: ChangeFacts | None
    shapes: tuple[ShapeFacts, ...]
    trend: TrendFacts | None
    capability: CapabilityFacts | None
    over_correction: OverCorrectionFacts | None
    promise: PromiseFacts | None
    rules: tuple[RuleFacts, ...]
    alarms: AlarmsFacts | None
    sections: tuple[SectionFacts, ...]


class ExclusionFacts(Facts):
    """A test outside the trial limits: how far in standard deviations, why, its cause, whether it leaves."""

    sample: str
    at: datetime | None
    value: float
    distance: float
    reason: str
    cause: str
    leaves: bool


class ProposalFacts(Facts):
    """A window for new limits: the latest stretch on one level, and the tests that would leave it.

    `acceptable` when the tests that stay can serve as they are; nothing is frozen yet.
    """

    property: str
    label: str
    window_from: datetime
    window_to: datetime
    count: int
    enough: bool
    acceptable: bool
    exclusions: tuple[ExclusionFacts, ...]
    words: str
