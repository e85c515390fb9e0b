"""Each figure behind a chart, computed from a series: facts where it can be had, and the words for it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

import numpy as np

from sandlab import charts
from sandlab.errors import InputError
from sandlab.lab.facts import (
    AlternativeFacts,
    CapabilityFacts,
    ChangeFacts,
    IndexFacts,
    OutlookFacts,
    OverCorrectionFacts,
    ResemblanceFacts,
    RuleFacts,
    ShapeFacts,
    TrendFacts,
)
from sandlab.lab.series import Floats, Series
from sandlab.lab.showing import sentence
from sandlab.quantities import format_number

T = TypeVar("T")
Lines = tuple[str, ...]
# A drift is looked for over the tests since a change began, else over so many.
DRIFT_TESTS = 24
LEAST_DRIFT_TESTS = 5
RARE_MIN = 480.0
# The search for over-correction looks back on so many tests.
SEARCHED = 500


def or_reason(work: Callable[[], tuple[T, Lines]]) -> tuple[T | None, Lines]:
    """The figure with its words, or why it cannot be had."""
    try:
        return work()
    except InputError as error:
        return None, tuple(f"{one.where}: {one.what}; {one.do}." for one in error.problems)


def resemblance(window: Floats) -> tuple[ResemblanceFacts, Lines]:
    """Autocorrelation of the tests of a baseline, and how much of the spread is noise of testing."""
    plain = charts.fit_autoregression(window)
    noisy = charts.fit_noisy_autoregression(window)
    told = noisy.significant
    facts = ResemblanceFacts(
        count=plain.count,
        phi=plain.phi,
        phi_low=plain.phi_low,
        phi_high=plain.phi_high,
        signal_phi=noisy.phi if told else None,
        signal_share=noisy.signal_share if told else None,
        signal_share_low=noisy.share_low if told else None,
        signal_share_high=noisy.share_high if told else None,
    )
    return facts, (plain.sentence, noisy.sentence)


def shapes(series: Series, found: charts.ChangePoint | None) -> tuple[ShapeFacts, ...]:
    """Both shapes of a lasting change, the better supported first; without limits the best split in two."""
    if series.limits is None:
        try:
            return (_shape(series, charts.split_point(series.values)),)
        except InputError:
            # Too few tests, or none that varies: there is nothing to split.
            return ()
    if found is None:
        return ()
    both = sorted((found.step, found.ramp), key=lambda one: one.support, reverse=True)
    return tuple(_shape(series, one) for one in both)


def _shape(series: Series, found: charts.Change) -> ShapeFacts:
    place = int(series.places[found.start])
    return ShapeFacts(
        shape=found.shape,
        test=place + 1,
        at=series.points[place].at,
        size=found.size,
        come_to=found.come_to,
        come_to_low=found.come_to_low,
        come_to_high=found.come_to_high,
        support=found.support,
    )


def shape_line(series: Series, one: ShapeFacts) -> str:
    """A shape in words."""
    now, low, high = (
        format_number(number, series.decimals + 1)
        for number in (one.come_to, one.come_to_low, one.come_to_high)
    )
    timed = series.times_us is not None
    first = f"test {one.test} of {series.count}" if timed else series.points[one.test - 1].sample
    since = f"from {first} on"
    sure = f"log-likelihood {one.support:.1f} above no change"
    if one.shape == "step":
        return f"A step of {now} ({low} to {high}) {since}; {sure}."
    # The slope is per slot: a missing test counts.
    missing = series.places[series.places.tolist().index(one.test - 1) :].min() < 0
    each = "a test, missing ones counted," if missing else "a test"
    slope = format_number(one.size, series.decimals + 2)
    return f"A drift of {slope} {each} {since}, {now} by now ({low} to {high}); {sure}."


def capability(series: Series, window: Floats) -> tuple[CapabilityFacts, Lines]:
    """How the tests of the baseline fit the tolerance."""
    lower, upper = series.tolerance or (None, None)
    found = charts.capability(window, lower=lower, upper=upper, target=series.target)
    warnings = tuple(charts.CAPABILITY_FLAG_WORDS[flag] for flag in found.flags)
    facts = CapabilityFacts(
        count=found.count,
        mean=found.mean,
        sigma_within=found.sigma_within,
        sigma_overall=found.sigma_overall,
        effective_count=found.effective_mean,
        cp=_index(found.cp),
        cpk=IndexFacts(value=found.cpk.value, low=found.cpk.low, high=found.cpk.high),
        pp=_index(found.pp),
        ppk=IndexFacts(value=found.ppk.value, low=found.ppk.low, high=found.ppk.high),
        cpm=_index(found.cpm),
        quantile_ppk=found.quantile_ppk,
        normal_chance=found.normality.chance,
        outside=found.outside,
        warnings=warnings,
    )
    named = {"Ppk": found.ppk, "Pp": found.pp, "Cpk": found.cpk, "Cp": found.cp, "Cpm": found.cpm}
    indices = ", ".join(
        f"{name} {one.value:.2f} ({one.low:.2f} to {one.high:.2f})" for name, one in named.items() if one
    )
    quantile = "" if found.quantile_ppk is None else f"; by quantiles {found.quantile_ppk:.2f}"
    outside = f"{100.0 * found.outside:.1f} % of {found.count} tests lie outside the tolerance"
    worth = f"they are worth {found.effective_mean:.0f} independent ones"
    return facts, (f"{indices}{quantile}.", f"{outside}; {worth}.", *(sentence(one) for one in warnings))


def _index(found: charts.Index | None) -> IndexFacts | None:
    return None if found is None else IndexFacts(value=found.value, low=found.low, high=found.high)


def trend(series: Series, change: ChangeFacts | None, first: int | None) -> tuple[TrendFacts | None, Lines]:
    """The drift of the last tests, those since a change began when there are enough, and where it leads."""
    measured = np.flatnonzero(~np.isnan(series.values))
    since = measured[measured >= first] if change is not None and first is not None else measured[:0]
    if change is not None and since.size < LEAST_DRIFT_TESTS:
        return None, (f"Only {since.size} tests since the change: no rate can be told yet.",)
    chosen = since if change is not None else measured[-DRIFT_TESTS:]
    if chosen.size < LEAST_DRIFT_TESTS:
        counted = "1 test is" if chosen.size == 1 else f"{chosen.size} tests are"
        return None, (f"{counted} too few to search for a drift.",)
    hours = _hours(series)[chosen]
    limits = series.limits
    phi = None
    if limits is not None:
        phi = min(0.95, max(0.0, limits.lag1)) if "autocorrelated" in limits.flags else 0.0
    found = charts.robust_trend(series.values[chosen], hours, phi=phi)
    paths = tuple(_paths(series, found)) if found.sure else ()
    facts = TrendFacts(
        count=found.count,
        per_hour=found.slope,
        per_hour_low=found.slope_low,
        per_hour_high=found.slope_high,
        level=found.level,
        sure=found.sure,
        outlook=paths,
    )
    # A rate is told per hour for hourly tests, per day for rarer ones.
    rare = series.times_us is not None and (series.every_min or 60.0) >= RARE_MIN
    times, per = (24.0, "day") if rare else (1.0, "h" if series.times_us is not None else "test")
    if not found.sure:
        return facts, (f"No drift is sure in the last {found.count} tests.",)
    low, mid, high = (
        format_number(times * one, series.decimals + 2)
        for one in (found.slope_low, found.slope, found.slope_high)
    )
    unit = f"{series.unit} per {per}".strip()
    return facts, (f"{mid} {unit} ({low} to {high}) over {found.count} tests.", *(one.words for one in paths))


def _hours(series: Series) -> Floats:
    """When each slot was taken; without times a test counts as an hour."""
    if series.times_us is None or not series.count:
        return np.arange(series.values.size, dtype=np.float64)
    return np.asarray((series.times_us - series.times_us[0]) / 3.6e9, dtype=np.float64)


def _paths(series: Series, found: charts.Trend) -> list[OutlookFacts]:
    """The way to each limit on the side that the drift leads to."""
    up = found.slope > 0.0
    side = 1 if up else 0
    ends: list[tuple[str, float]] = []
    if series.limits is not None and series.limits.usable:
        ends.append(("control limit", series.limits.upper if up else series.limits.lower))
    for name, pair in (("tolerance", series.tolerance), ("reaction limit", series.reaction)):
        end = pair[side] if pair is not None else None
        if end is not None:
            ends.append((name, end))
    paths, timed = [], series.times_us is not None
    for name, limit in ends:
        way = charts.trend_outlook(found, limit, side="upper" if up else "lower", timed=timed)
        shown = f"{format_number(limit, series.decimals)} {series.unit}".strip()
        paths.append(
            OutlookFacts(
                limit=limit,
                name=name,
                course=way.course,
                hours=way.hours,
                low=way.low,
                high=way.high,
                words=f"{name.capitalize()} {shown}: {way.sentence[0].lower()}{way.sentence[1:]}",
            )
        )
    return paths


def over_correction(
    series: Series, *, per_cycle: int, labels: Mapping[str, Sequence[str]]
) -> tuple[OverCorrectionFacts, Lines]:
    """The search for a swing that over-correction leaves, with whatever else could make tests swing."""
    start = max(0, series.values.size - SEARCHED)
    groups = {name: _per_slot(series, each)[start:] for name, each in labels.items()}
    found = charts.over_correction(series.values[start:], per_cycle=per_cycle, alternatives=groups)
    facts = OverCorrectionFacts(
        verdict=found.verdict,
        tests_apart=found.lag,
        cycles=found.cycles,
        correlation=found.correlation,
        bound=found.bound,
        alternatives=tuple(
            AlternativeFacts(
                name=one.name, groups=one.groups, difference=one.difference, explains=one.explains
            )
            for one in found.alternatives
        ),
        missing=found.missing,
    )
    said = [found.sentence]
    for one in found.alternatives:
        apart = format_number(one.difference, series.decimals + 1)
        verdict = "explains it" if one.explains else "does not explain it"
        if one.groups > 1:
            said.append(f"{one.name}: {one.groups} groups, up to {apart} {series.unit} apart, {verdict}.")
        else:
            said.append(f"{one.name}: only one, {verdict}.")
    return facts, tuple(said)


def _per_slot(series: Series, labels: Sequence[str]) -> list[str]:
    """A label per slot; a missing test has none."""
    return [labels[place] if place >= 0 else "" for place in series.places.tolist()]


def rule_costs(in_use: charts.ChartInUse) -> tuple[tuple[RuleFacts, ...], Lines]:
    """What each rule costs in false alarms on a chart, simulated where no equation gives it."""
    costs = charts.rule_costs(in_use, random=np.random.default_rng(1))
    facts = tuple(
        RuleFacts(
            rule=one.rule,
            alarms=one.in_use,
            tests_without=one.tests_without,
            tests_with=one.tests_with,
            words=one.sentence,
        )
        for one in costs
    )
    return facts, tuple(f"{'on ' if one.in_use else 'off'}  {one.rule}: {one.sentence}." for one in costs)
