"""Repeats of one sample as a subgroup: what each repeat by itself came to, from the raw readings kept."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from sandlab import charts, methods
from sandlab.errors import InputError, impossible
from sandlab.lab.kinds import Shown
from sandlab.lab.opening import Lab
from sandlab.lab.series import Floats, Series
from sandlab.lab.showing import to_display
from sandlab.lab.sources import rows
from sandlab.lab.subgroups import subgroup_shown
from sandlab.methods.repeats import combine
from sandlab.records import Baseline, Reading
from sandlab.specs import Method


def takes_repeats(lab: Lab, name: str) -> bool:
    """Whether a method of this property asks for repeats."""
    return any(
        one.property == name and one.readings and one.repeats and one.repeats.count > 1
        for one in lab.specs.methods.values()
    )


def repeats_shown(
    lab: Lab,
    series: Series,
    baseline: Baseline | None,
    *,
    last: int,
    since: datetime | None,
    until: datetime | None,
    spread: charts.Spread,
) -> Shown:
    """The samples of a series as subgroups of their repeats, against those of the baseline.

    Raises InputError for a property that is never tested twice.
    """
    table = repeated(lab, series.name, last=last, since=since, until=until)
    window = repeated_in(lab, baseline) if baseline else np.empty((0, 2))
    return subgroup_shown(series, table, window, spread=spread, repeats=True, mark=lab.mark)


def repeated(
    lab: Lab, name: str, *, last: int, since: datetime | None = None, until: datetime | None = None
) -> Floats:
    """The repeats of the last samples, or those of a stretch of time, in display units: a row per sample."""
    if not takes_repeats(lab, name):
        raise impossible(name, "has no repeats", "choose another kind, or a property tested twice and more")
    asked = since is not None or until is not None
    frame = rows(lab, name, since=since, until=until, last=None if asked else last)
    return _table(lab, name, frame.rows(named=True))


def repeated_in(lab: Lab, baseline: Baseline) -> Floats:
    """The repeats of the samples that a baseline was frozen from."""
    name = baseline.property
    frame = rows(lab, name, since=baseline.window_from, until=baseline.window_to)
    kept = [row for row in frame.iter_rows(named=True) if row["sample"] not in baseline.excluded]
    return _table(lab, name, kept)


def _table(lab: Lab, name: str, results: Sequence[dict[str, object]]) -> Floats:
    """A row per result, as wide as most repeats need and two at least; unused places are NaN."""
    known = lab.store.readings_of(name, {str(row["sample"]): int(str(row["revision"])) for row in results})
    found = []
    for row in results:
        value = float(str(row["value"]))
        method = lab.specs.methods.get(str(row["method"]))
        each = _each(method, known.get(str(row["sample"]), ()), value) if method else [value]
        found.append([to_display(lab.specs, name, one) for one in each])
    table = np.full((len(found), max((len(each) for each in found), default=2)), np.nan)
    for place, values in enumerate(found):
        table[place, : len(values)] = values
    return table if table.shape[1] > 1 else np.column_stack((table, np.full(len(found), np.nan)))


def _each(method: Method, readings: Sequence[Reading], value: float) -> list[float]:
    """What each repeat came to; the result alone where its readings do not give it under today's specs."""
    apart: dict[int, dict[str, float]] = {}
    for one in readings:
        apart.setdefault(one.repeat, {})[one.name] = one.value
    if len(apart) < 2 or method.repeats is None:
        return [value]
    rule = method.repeats
    try:
        each = [methods.compute(method.function, one, method.constants).value for one in apart.values()]
        whole = combine(each, rule=rule.rule, agree_within=rule.agree_within, relative=rule.relative)
    except InputError:
        return [value]
    return each if abs(whole.value - value) <= 1e-6 * max(1.0, abs(value)) else [value]
