"""How often the charts in use are wrong when nothing is, each by how its own tests come and resemble."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np

from sandlab import charts
from sandlab.charts.noisy_autoregression import noisy_resemblance
from sandlab.charts.words import every, from_to
from sandlab.errors import InputError
from sandlab.lab import together
from sandlab.lab.baselines import window_values, without
from sandlab.lab.facts import AlarmsFacts
from sandlab.lab.opening import Lab
from sandlab.lab.series import Floats, Series
from sandlab.lab.showing import sentence
from sandlab.lab.sources import display_limits, read
from sandlab.records import Baseline

# Weight and width of the moving average that looks for lasting changes beside every chart.
WATCH = (0.2, 2.86)
# Tests are counted over the baseline's window, or over so much time before its end where that is longer.
COUNTED, LONG_WEEKEND = timedelta(days=28), timedelta(days=4)
# Limits from fewer tests make false alarms clearly more frequent.
SURE_BASELINE = 300
_LARGEST_PHI = 0.98

Resemblance = tuple[float, float]

# Of each plant's baselines: a frozen window does not change, and a fit takes longer than a chart.
_known: dict[tuple[Path, str], tuple[Resemblance | None, float]] = {}


def wrong_words(lab: Lab, baselines: Iterable[Baseline]) -> str:
    """How often all charts in use are wrong, in words; empty without any limits."""
    found = all_alarms(lab, baselines)
    if found is None:
        return ""
    over = f" over all {found.charts} charts" if found.charts > 1 else ""
    return f"about one false alarm every {every(found.days)}{over}"


def alarm_lines(alarms: AlarmsFacts, wrong: str) -> tuple[str, ...]:
    """How often all charts in use are wrong, what that supposes, and what short baselines cost."""
    span = from_to(alarms.days_low, alarms.days_high)
    counted = (
        f"{wrong}; {span} between them with 8 of 10 baselines of these sizes, if each errs by itself",
        "it supposes that tests are normal, resemble each other and come as often as in their baselines",
        "alarms of one chart within ten tests are one; charts that show the same departure count each",
    )
    exact = f"if all limits were exact it would be every {every(alarms.days_exact)}"
    if alarms.short:
        charts_ = "1 chart has" if alarms.short == 1 else f"{alarms.short} charts have"
        exact += f": {charts_} limits from fewer than {SURE_BASELINE} tests"
    return tuple(sentence(one) for one in (*counted, exact))


def all_alarms(lab: Lab, baselines: Iterable[Baseline]) -> AlarmsFacts | None:
    """How often at least one of the charts in use alarms when nothing is wrong; None without any limits."""
    in_force = {one.property: one for one in baselines if display_limits(lab, one).usable}
    if not in_force:
        return None
    found = [property_chart(lab, one) for one in in_force.values()]
    judged = together.judged_by(lab, in_force)
    if judged:
        # Its limit is set for the chance that limits of three sigmas leave, whatever their baseline.
        often = max(_of_window(lab, one)[1] for one in judged)
        found.append(charts.ChartInUse(name=together.NAME, tests_per_day=often))
    rate = _solved(tuple(found))
    return AlarmsFacts(
        charts=len(found),
        days=rate.days,
        days_low=rate.days_low,
        days_high=rate.days_high,
        days_exact=rate.days_exact,
        short=sum(one.count < SURE_BASELINE for one in in_force.values()),
    )


def property_chart(lab: Lab, baseline: Baseline) -> charts.ChartInUse:
    """The chart of a baseline in force as its false alarms are counted."""
    entry = lab.specs.properties.get(baseline.property)
    resemblance, often = _of_window(lab, baseline)
    rules = entry.rules if entry else None
    return chart_in_use(baseline.property, display_limits(lab, baseline), rules, often, resemblance)


def chart_in_use(
    name: str,
    limits: charts.Limits,
    rules: tuple[str, ...] | None,
    tests_per_day: float,
    resemblance: Resemblance | None,
) -> charts.ChartInUse:
    """A chart as its false alarms are counted: its rules, limits, and the average of residuals beside it.

    `resemblance` is phi and signal share of the tests. The residuals suppose the lag-1 autocorrelation alone,
    so that a slow swing of the sand still shows.
    """
    phi = min(_LARGEST_PHI, max(0.0, limits.lag1)) if "autocorrelated" in limits.flags else 0.0
    own = resemblance or (phi, 1.0)
    return charts.ChartInUse(
        name=name,
        tests_per_day=tests_per_day,
        rules=rules or ("beyond_limit",),
        width=limits.width,
        phi=min(_LARGEST_PHI, own[0]),
        signal_share=own[1],
        baseline_count=max(charts.MINIMUM_BASELINE, limits.count),
        basis=limits.basis,
        ewma=WATCH,
        model=(phi, 1.0),
    )


def _of_window(lab: Lab, baseline: Baseline) -> tuple[Resemblance | None, float]:
    """Phi and signal share of a baseline's tests, and their number per calendar day."""
    key = lab.folder, baseline.id
    if key not in _known:
        since = min(baseline.window_from, baseline.window_to - COUNTED)
        counted = read(lab, baseline.property, since=since, until=baseline.window_to)
        whole = since == baseline.window_from
        values = without(counted, baseline.excluded) if whole else window_values(lab, baseline)
        _known[key] = alike(values), _per_day(counted, since, baseline.window_to)
    return _known[key]


def alike(values: Floats) -> Resemblance | None:
    """Phi and signal share of tests, one per slot; None where they do not resemble each other."""
    try:
        return noisy_resemblance(values)
    except InputError:
        # Too few of its tests are left, or they do not vary: the baseline's own figures have to do.
        return None


def _per_day(counted: Series, since: datetime, until: datetime) -> float:
    """Tests per calendar day; from the first one on where they began later than a long weekend leaves."""
    first = counted.points[0].at if counted.points else None
    if first is None:
        return 1440.0 / (counted.every_min or 1440.0)
    start = first if first - since > LONG_WEEKEND else since
    return counted.count / max((until - start) / timedelta(days=1), 1.0)


@lru_cache(maxsize=16)
def _solved(in_use: tuple[charts.ChartInUse, ...]) -> charts.FalseAlarms:
    """Kept, because charts are looked at more often than limits are frozen."""
    return charts.false_alarms(in_use, random=np.random.default_rng(1))
