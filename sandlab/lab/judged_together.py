"""Several properties as one chart, whatever their source: T2 or moving averages, and what is odd."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from sandlab import charts
from sandlab.lab.facts import ChartKind, ChartState, DrawnFacts
from sandlab.lab.series import Floats
from sandlab.lab.showing import marked

KINDS_TOGETHER: tuple[ChartKind, ...] = ("individuals", "ewma")
STATE_OVER = 5
# One false alarm in 370 samples, as on a chart of single tests.
ALARM = 0.0027
MEWMA_WEIGHT = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Together:
    """What is drawn of the samples, and the reason of each that is beyond the limit, by its place."""

    drawn: DrawnFacts
    reasons: Mapping[int, str]


def judged(
    values: Floats,
    limits: charts.MultivariateLimits,
    *,
    kind: ChartKind,
    name: str,
    labels: Mapping[str, str],
    decimals: Mapping[str, int],
    weight: float | None = None,
    mark: str = ".",
) -> Together:
    """T2 as depth, or with kind "ewma" the squared distance of the moving averages; each signal decomposed.

    A moving average is taken apart by the limits that it has in the long run, so that the words tell which
    lasting level, or which relation of levels, has moved. `weight` is that of the newest sample,
    `mark` the decimal mark of the words.
    """
    flags = [charts.MULTIVARIATE_FLAG_WORDS[flag] for flag in limits.flags]
    note = f"; {'; '.join(flags)}" if flags else ""
    if kind == "ewma":
        used = MEWMA_WEIGHT if weight is None else weight
        average = charts.mewma(values, limits, weight=used)
        rows, upper, title = average.statistic, average.limit, "distance of the moving averages"
        said = f"Moving averages of all properties together, weight {used:g}"
        odd, beyond = average.average, average.beyond
        share = used / (2.0 - used)
        scaled = tuple(tuple(share * one for one in row) for row in limits.covariance)
        apart, before = replace(limits, covariance=scaled), "averages: "
    else:
        chart = charts.hotelling(values, limits, alarm=ALARM)
        rows, upper, title = chart.depth, chart.depth_limit, "how odd a sample is"
        said = "How odd the tests of a sample are together: 2 is one in 100, 3 one in 1000 (Hotelling's T2)"
        odd, beyond, apart, before = values, chart.beyond, limits, ""
    drawn = DrawnFacts(
        title=f"{name} together, {title}",
        unit="",
        decimals=1,
        values=tuple(float(one) if np.isfinite(one) else None for one in rows),
        centre=None,
        lower=None,
        upper=float(upper),
        limits_vary=False,
        lower_at=(),
        upper_at=(),
        design=marked(f"{said}; one false alarm in 370 samples that do not resemble each other{note}.", mark),
    )
    reasons = {
        place: before
        + marked(charts.decompose(odd[place], apart, labels=labels, decimals=decimals).sentence, mark)
        for place in beyond
    }
    return Together(drawn, reasons)


def said_together(name: str, count: int, found: Together) -> tuple[ChartState, str]:
    """State and words of the newest samples."""
    newest = len(found.drawn.values) - 1
    last = max(found.reasons, default=-1)
    if last > newest - STATE_OVER and last >= 0:
        ago = newest - last
        when = {0: "in the last sample", 1: "one sample ago"}.get(ago, f"{ago} samples ago")
        return "signal", f"Odd together {when}: {found.reasons[last]}"
    every = "both" if count == 2 else f"all {count}"
    return "in_control", f"{name} together: {every} go together as they did."
