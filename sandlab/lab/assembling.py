"""A chart put together from a series and what was found in it, whatever its source."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sandlab import charts
from sandlab.lab.describing import change_facts
from sandlab.lab.facts import ChartFacts, ChartKind, ChartState, SignalFacts
from sandlab.lab.kinds import Shown
from sandlab.lab.series import Series


def chart_facts(
    series: Series,
    *,
    state: ChartState,
    words: str,
    kind: ChartKind,
    other: Shown,
    signals: Sequence[SignalFacts],
    found: charts.Description | None,
    wrong: str,
    proposal: str = "",
) -> ChartFacts:
    """A series and what was found in it, as facts."""
    return ChartFacts(
        property=series.name,
        label=series.label,
        short=series.short,
        unit=series.unit,
        decimals=series.decimals,
        kind=kind,
        state=state,
        words=words,
        kind_words=other.words,
        wrong=wrong,
        proposal=proposal,
        change=change_facts(found, timed=series.times_us is not None) if found else None,
        baseline=series.baseline,
        baselines=(),
        target=series.target,
        tolerance=series.tolerance,
        reaction=series.reaction,
        points=series.points,
        drawn=other.drawn,
        subgroup=other.subgroup,
        signals=tuple(signals),
        events=(),
    )


def newest(series: Series, last: int) -> Series:
    """The last points of a series."""
    skipped = series.count - last
    if skipped <= 0:
        return series
    start = int(np.flatnonzero(series.places == skipped)[0])
    return replace(
        series,
        values=series.values[start:],
        places=np.where(series.places[start:] < 0, -1, series.places[start:] - skipped),
        times_us=None if series.times_us is None else series.times_us[start:],
        points=series.points[skipped:],
    )


def signal_facts(series: Series, computed: charts.IndividualsChart) -> tuple[SignalFacts, ...]:
    """Signals by the number of the plotted point: slots of missing tests, and tests not shown, taken out."""
    first = computed.values.size - series.places.size
    places = series.places
    return tuple(
        SignalFacts(
            rule=one.rule,
            alarm=one.alarm,
            at=series.points[int(places[one.index - first])].at,
            index=int(places[one.index - first]),
            members=tuple(
                int(places[member - first])
                for member in one.members
                if member >= first and places[member - first] >= 0
            ),
            side=one.side,
            reason=one.reason,
        )
        for one in computed.signals
        if one.index >= first
    )
