"""Charts of subgroups in a column of any table: rows with the same label form one."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from sandlab import charts
from sandlab.errors import InputError, Problem
from sandlab.lab.assembling import chart_facts
from sandlab.lab.columns import Cells, Column, bounds_told, read_cells
from sandlab.lab.facts import ChartFacts, ChartState, PointFacts
from sandlab.lab.kinds import SUBGROUPS, Shown
from sandlab.lab.series import Floats, Series
from sandlab.lab.subgroups import subgroup_shown

# A signal is news while it lies among so many last subgroups.
RECENT = 5


def grouped_chart(
    column: Column, *, spread: charts.Spread = "deviation", repeats: bool = False
) -> ChartFacts:
    """Means and spread of the subgroups of a column, in order of first appearance.

    With `repeats` they are repeats of one sample: limits of the means then hold the spread between samples.
    Raises ImportRefused or InputError with every problem.
    """
    if column.group is None:
        raise InputError(Problem("subgroups", "the column that names them is not given", "add --group NAME"))
    cells = read_cells(column)
    kept = ~np.isnan(cells.values)
    values, labels = cells.values[kept], np.array(cells.groups)[kept]
    table = charts.tabulate(values, labels)
    window = np.empty((0, 2))
    if column.baseline is not None:
        rows = np.flatnonzero(kept) + 1
        inside = (rows >= column.baseline[0]) & (rows <= column.baseline[1])
        window = charts.tabulate(values[inside], labels[inside])
    series = _series(column, cells, table, list(dict.fromkeys(labels.tolist())))
    shown = subgroup_shown(
        series, _two_wide(table), _two_wide(window), spread=spread, repeats=repeats, mark="."
    )
    words = f"{shown.words[0].lower()}{shown.words[1:]}"
    if column.baseline is None:
        words = f"{series.count} subgroups; name the rows of a baseline, such as 1:60, for limits."
    return chart_facts(
        series,
        state=_state(shown, series.count),
        words=f"{column.name}: {words}{bounds_told(cells.bounds)}",
        kind=SUBGROUPS,
        other=replace(shown, words="") if shown.drawn else Shown("", None, ()),
        signals=shown.signals,
        found=None,
        wrong="",
    )


def _state(shown: Shown, count: int) -> ChartState:
    if shown.drawn is None:
        return "no_baseline"
    return "signal" if any(one.index >= count - RECENT for one in shown.signals) else "in_control"


def _two_wide(table: Floats) -> Floats:
    """A table of single tests gets an empty second column: none of its subgroups has a spread."""
    if table.shape[1] != 1:
        return table
    return np.column_stack((table, np.full(table.shape[0], np.nan)))


def _series(column: Column, cells: Cells, table: Floats, labels: list[str]) -> Series:
    """A point for each subgroup: its mean, at the time of its first test."""
    means = np.nanmean(table, axis=1)
    first: dict[str, int] = {}
    for slot in np.flatnonzero(~np.isnan(cells.values)).tolist():
        first.setdefault(cells.groups[slot], slot)
    points = tuple(
        PointFacts(
            at=None
            if cells.times is None
            else datetime.fromtimestamp(int(cells.times[first[label]]) / 1e6, UTC),
            value=mean,
            sample=label,
            by="",
            corrected=False,
            flags=(),
        )
        for label, mean in zip(labels, means.tolist(), strict=True)
    )
    low, high = column.tolerance
    return Series(
        name=column.name,
        label=column.name,
        short=column.name[:6],
        unit="",
        decimals=cells.decimals,
        values=means,
        places=np.arange(means.size, dtype=np.intp),
        times_us=None,
        points=points,
        tolerance=None if low is None and high is None else (low, high),
    )
