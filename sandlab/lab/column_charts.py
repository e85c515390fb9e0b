"""Charts of columns of any table: the same engine on numbers from outside the plant."""

from __future__ import annotations

from datetime import UTC

import numpy as np

from sandlab import charts
from sandlab.lab.assembling import chart_facts, signal_facts
from sandlab.lab.columns import Cells, Column, bounds_told, read_cells
from sandlab.lab.describing import described, state_of
from sandlab.lab.designs import Design
from sandlab.lab.facts import BaselineFacts, ChartFacts, ChartKind, FiguresFacts, PointFacts
from sandlab.lab.figures import Behind, figures_of, table_without_limits
from sandlab.lab.kinds import other_kind
from sandlab.lab.series import Floats, Series, Times, moment_of, unfrozen
from sandlab.lab.showing import sentence


def column_chart(
    column: Column,
    *,
    kind: ChartKind = "individuals",
    design: Design | None = None,
) -> ChartFacts:
    """One chart of a column; raises ImportRefused or InputError with every problem."""
    cells = read_cells(column)
    series, window = _read(column, cells)
    found = described(series, wrong=None, zone=UTC)
    other = other_kind(series, window, kind, design or Design(), mark=".")
    words = found.sentence
    if series.limits is None:
        words = f"{column.name}: {table_without_limits(series)}."
    return chart_facts(
        series,
        state=state_of(found),
        words=words + bounds_told(cells.bounds),
        kind=kind,
        other=other,
        signals=other.signals if other.drawn else signal_facts(series, found.chart),
        found=found,
        wrong=found.wrong,
    )


def column_figures(column: Column) -> FiguresFacts:
    """Every figure behind the chart of a column."""
    cells = read_cells(column)
    series, window = _read(column, cells)
    baseline = series.baseline
    lines: tuple[str, ...] = ()
    if baseline is not None and series.limits is not None:
        flags = [sentence(charts.FLAG_WORDS[flag]) for flag in series.limits.flags]
        figures = (baseline.lower, baseline.centre, baseline.upper)
        level = " / ".join(f"{one:.{series.decimals + 1}f}" for one in figures)
        lines = (f"{level} from {baseline.count} tests, {baseline.reason}.", *flags)
    found = figures_of(
        Behind(
            series=series,
            window=window,
            zone=UTC,
            now=None,
            mark=".",
            labels=cells.came_from,
            per_cycle=1,
            wrong=None,
            alarms=None,
            baseline=baseline,
            baseline_lines=lines,
            no_limits=sentence(table_without_limits(series)),
        )
    )
    return found.model_copy(update={"words": found.words + bounds_told(cells.bounds)})


def _read(column: Column, cells: Cells) -> tuple[Series, Floats]:
    """The column as a series against its baseline or what is known, and the values of the baseline."""
    values, window, limits = cells.values, np.empty(0), None
    if column.known is not None:
        limits = charts.given_limits(*column.known)
    elif column.baseline is not None:
        window = values[column.baseline[0] - 1 : column.baseline[1]]
        limits = charts.freeze(window)
    return _series(column, cells, limits), window


def _series(column: Column, cells: Cells, limits: charts.Limits | None) -> Series:
    """Every row is a slot; those with a number are points."""
    values, times = cells.values, cells.times
    measured = ~np.isnan(values)
    low, high = column.tolerance
    return Series(
        name=column.name,
        label=column.name,
        short=column.name[:6],
        unit="",
        decimals=cells.decimals,
        values=values,
        places=np.where(measured, np.cumsum(measured) - 1, -1).astype(np.intp),
        times_us=times,
        points=tuple(
            row_point(times, slot, float(values[slot]), cells.flags(slot + 1))
            for slot in np.flatnonzero(measured).tolist()
        ),
        limits=limits,
        baseline=None if limits is None else _baseline(column, limits),
        tolerance=None if low is None and high is None else (low, high),
    )


def row_point(times: Times | None, slot: int, value: float, flags: tuple[str, ...] = ()) -> PointFacts:
    """The test in a row of a table."""
    return PointFacts(
        at=None if times is None else moment_of(int(times[slot])),
        value=value,
        sample=f"row {slot + 1}",
        by="",
        corrected=False,
        flags=flags,
    )


def _baseline(column: Column, limits: charts.Limits) -> BaselineFacts:
    if limits.behind is None:
        return unfrozen(limits, "centre and standard deviation as given")
    first, last = column.baseline or (0, 0)
    return unfrozen(limits, f"rows {first} to {last} of {column.file.name}")
