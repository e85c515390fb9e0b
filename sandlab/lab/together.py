"""The hourly set as one chart: Hotelling's T2, and the property or the relation that made it signal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import polars as pl

from sandlab import charts, schedule
from sandlab.errors import InputError, Problem
from sandlab.lab.facts import (
    ChartFacts,
    ChartKind,
    ChartState,
    DrawnFacts,
    PointFacts,
    PropertyFacts,
    SignalFacts,
    SpanFacts,
)
from sandlab.lab.judged_together import KINDS_TOGETHER, Together, judged, said_together
from sandlab.lab.opening import Lab
from sandlab.lab.series import Floats
from sandlab.lab.showing import display_decimals, display_unit, to_display
from sandlab.lab.sources import bound_flags
from sandlab.lab.timeline import events
from sandlab.quantities import format_number
from sandlab.records import Baseline
from sandlab.specs import TestSet

NAME = "together"
BOUND = ("property", "value", "censored")
RECENT = 40


@dataclass(frozen=True, slots=True, eq=False)
class _Set:
    """The samples of the set in display units, and the limits they are judged against, if there are any."""

    label: str
    names: tuple[str, ...]
    rows: pl.DataFrame
    values: Floats
    limits: charts.MultivariateLimits | None
    window: tuple[datetime, datetime] | None
    baselines: tuple[Baseline, ...]
    problem: str


def row(lab: Lab, baselines: Mapping[str, Baseline]) -> PropertyFacts | None:
    """The set's line in the overview; None for a plant whose schedule has no set of several properties."""
    if _test_set(lab) is None:
        return None
    found = chart(lab, baselines, last=RECENT)
    drawn = found.drawn
    shown = [] if drawn is None else [one for one in drawn.values if one is not None]
    return PropertyFacts(
        property=NAME,
        label=found.label,
        short=found.short,
        unit="",
        decimals=found.decimals,
        state=found.state,
        words=found.words,
        brief=f"odd together: {found.signals[-1].reason.split(':')[0]}"
        if found.state == "signal" and found.signals
        else "",
        last_value=shown[-1] if shown else None,
        last_text=format_number(shown[-1] if shown else None, 1, mark=lab.mark),
        last_at=found.points[-1].at if found.points else None,
        recent=tuple(shown),
        centre=None,
        lower=None,
        upper=drawn.upper if drawn else None,
    )


def chart(
    lab: Lab,
    baselines: Mapping[str, Baseline],
    *,
    last: int = 120,
    kind: ChartKind = "individuals",
    weight: float | None = None,
) -> ChartFacts:
    """T2 of the set's last samples, or with kind "ewma" their multivariate moving average of that weight."""
    if kind not in KINDS_TOGETHER:
        raise InputError(
            Problem(NAME, f"has no chart of kind '{kind}'", f"kinds: {', '.join(KINDS_TOGETHER)}")
        )
    test_set = _test_set(lab)
    if test_set is None:
        raise InputError(
            Problem(NAME, "no test set of the schedule has two charted properties", "describe one")
        )
    found = _read(lab, test_set, baselines, last)
    apart = _judged(lab, found, kind, weight)
    drawn = None if apart is None else apart.drawn
    signals = () if apart is None else _signals(found, apart)
    state, words = _said(found, apart)
    points = () if drawn is None else _points(lab, found, drawn)
    return ChartFacts(
        property=NAME,
        label=f"{found.label} together",
        short="set",
        unit="",
        decimals=1,
        kind=kind if kind == "ewma" else "individuals",
        state=state,
        words=words,
        kind_words="",
        wrong="",
        proposal="",
        change=None,
        baseline=None,
        baselines=_spans(found),
        target=None,
        tolerance=None,
        reaction=None,
        points=points,
        drawn=drawn,
        kinds=KINDS_TOGETHER,
        signals=signals,
        events=events(lab, points[0].at) if points else (),
    )


def judged_by(lab: Lab, baselines: Mapping[str, Baseline]) -> tuple[Baseline, ...]:
    """The baselines that give the set its limits; none while it cannot be judged."""
    test_set = _test_set(lab)
    names = [name for name in _charted(lab, test_set) if name in baselines] if test_set else []
    own = tuple(baselines[name] for name in names)
    shared = len(own) >= 2 and max(one.window_from for one in own) < min(one.window_to for one in own)
    return own if shared else ()


def _test_set(lab: Lab) -> TestSet | None:
    """The most frequent test set with two charted properties or more."""
    sets = [one for one in lab.sand.schedule.values() if len(_charted(lab, one)) >= 2]
    return min(sets, key=schedule.interval_min, default=None)


def _charted(lab: Lab, test_set: TestSet) -> list[str]:
    return [name for name in test_set.properties if lab.specs.properties[name].chart != "none"]


def _read(lab: Lab, test_set: TestSet, baselines: Mapping[str, Baseline], last: int) -> _Set:
    """The samples, and limits over the window that the baselines of the set's properties have in common."""
    names = tuple(name for name in _charted(lab, test_set) if name in baselines)
    own = tuple(baselines[name] for name in names)
    known = names if len(names) >= 2 else tuple(_charted(lab, test_set))
    rows = _samples(lab, test_set, known, last=last)
    limits, window, problem = None, None, "Freeze limits of at least two of its properties first."
    if len(names) >= 2:
        window = max(one.window_from for one in own), min(one.window_to for one in own)
        problem = "The baselines of its properties have no time in common: freeze them over one window."
        if window[0] < window[1]:
            limits, problem = _limits(lab, test_set, names, window, own)
    values = _values(lab, rows, known)
    return _Set(test_set.label, known, rows, values, limits, window, own, problem)


def _limits(
    lab: Lab,
    test_set: TestSet,
    names: tuple[str, ...],
    window: tuple[datetime, datetime],
    baselines: tuple[Baseline, ...],
) -> tuple[charts.MultivariateLimits | None, str]:
    """Robust limits over a window, samples that some baseline excludes left out."""
    excluded = {sample for one in baselines for sample in one.excluded}
    rows = _samples(lab, test_set, names, since=window[0], until=window[1])
    kept = rows.filter(~pl.col("sample").is_in(list(excluded)))
    try:
        return charts.freeze_multivariate(_values(lab, kept, names), names, method="robust"), ""
    except InputError as error:
        return None, f"No limits for the set together: {error.problems[0]}."


def _samples(
    lab: Lab,
    test_set: TestSet,
    names: tuple[str, ...],
    *,
    since: datetime | None = None,
    until: datetime | None = None,
    last: int | None = None,
) -> pl.DataFrame:
    """A row per sample with a column per property, null where it was not measured."""
    long = lab.store.results_of(lab.system, names, since=since, until=until, point=test_set.point, last=last)
    # A test corrected by somebody else belongs to its sample still, and that to who took it.
    who = pl.col("by").sort_by("revision").first().over("sample")
    wide = long.with_columns(who).pivot(
        on="property", index=["taken_at", "sample", "by"], values="value", aggregate_function="last"
    )
    gone = [pl.lit(None, dtype=pl.Float64).alias(name) for name in names if name not in wide.columns]
    bounds = long.filter(pl.col("censored") != "").group_by("sample").agg(bounds=pl.struct(BOUND))
    frame = wide.with_columns(gone).join(bounds, on="sample", how="left").sort("taken_at", "sample")
    return frame.tail(last) if last else frame


def _values(lab: Lab, rows: pl.DataFrame, names: tuple[str, ...]) -> Floats:
    """The samples as a matrix in display units, NaN where a property was not measured."""
    matrix = rows.select(names).to_numpy().astype(np.float64)
    for column, name in enumerate(names):
        matrix[:, column] = [to_display(lab.specs, name, value) for value in matrix[:, column].tolist()]
    return matrix


def _judged(lab: Lab, found: _Set, kind: ChartKind, weight: float | None) -> Together | None:
    """The samples against their limits; None where there are none."""
    if found.limits is None:
        return None
    entries = {name: lab.specs.properties[name] for name in found.names}
    return judged(
        found.values,
        found.limits,
        kind=kind,
        name=found.label,
        labels={name: entry.label for name, entry in entries.items()},
        decimals={
            name: display_decimals(entry, display_unit(lab.specs, name)) for name, entry in entries.items()
        },
        weight=weight,
        mark=lab.mark,
    )


def _signals(found: _Set, apart: Together) -> tuple[SignalFacts, ...]:
    """Samples beyond the limit, each with the property or the relation that is odd."""
    times = found.rows["taken_at"].to_list()
    return tuple(
        SignalFacts(
            rule=NAME,
            alarm=True,
            at=times[place],
            index=place,
            members=(place,),
            side="up",
            reason=reason,
        )
        for place, reason in apart.reasons.items()
    )


def _said(found: _Set, apart: Together | None) -> tuple[ChartState, str]:
    if found.rows.is_empty():
        return "too_few", "Not tested yet."
    if apart is None:
        return "no_baseline", found.problem
    return said_together(found.label, len(found.names), apart)


def _points(lab: Lab, found: _Set, drawn: DrawnFacts) -> tuple[PointFacts, ...]:
    """A point per sample; 0 where nothing can be said of it."""
    columns = found.rows.select("taken_at", "sample", "by", "bounds").iter_rows()
    return tuple(
        PointFacts(
            at=at,
            value=value or 0.0,
            sample=sample,
            by=by,
            corrected=False,
            flags=tuple(
                f"{lab.specs.properties[one[BOUND[0]]].label} {flag}"
                for one in bounds or ()
                for flag in bound_flags(lab, *(one[name] for name in BOUND))
            ),
        )
        for value, (at, sample, by, bounds) in zip(drawn.values, columns, strict=True)
    )


def _spans(found: _Set) -> tuple[SpanFacts, ...]:
    if found.window is None or found.limits is None:
        return ()
    who = ", ".join(sorted({one.by for one in found.baselines}))
    count = round(found.limits.count)
    span = SpanFacts(
        window_from=found.window[0],
        window_to=found.window[1],
        frozen_by=who,
        reason="the time that the baselines of its properties share",
        count=count,
    )
    return (span,)
