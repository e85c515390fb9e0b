"""Charts of a column of any table: the same engine on numbers from outside the plant."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from sandlab import charts
from sandlab.errors import InputError, Problem, SandlabError, nearest
from sandlab.exchange.grid import Sheet, read_grid
from sandlab.lab.charting import chart_facts, signal_facts
from sandlab.lab.describing import described, state_of
from sandlab.lab.facts import BaselineFacts, ChartFacts, ChartKind, FiguresFacts, PointFacts
from sandlab.lab.figures import Behind, figures_of, table_without_limits
from sandlab.lab.kinds import Design, other_kind
from sandlab.lab.series import Floats, Series, Times, microseconds
from sandlab.lab.showing import sentence
from sandlab.quantities import parse_number

MOST_PROBLEMS = 10
MOST_DECIMALS = 6


@dataclass(frozen=True, slots=True)
class Column:
    """Which numbers of which table: file, head of the column, rows of the baseline, times, tolerance, groups.

    `came_from` are heads of columns that tell where each test came from, such as muller or operator.
    Rows count from 1 below the head. Empty cells are missing tests.
    """

    file: Path
    name: str
    baseline: tuple[int, int] | None = None
    times: str | None = None
    tolerance: tuple[float | None, float | None] = (None, None)
    group: str | None = None
    came_from: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """A column as read: a value per row, the decimals written, times and labels of groups where asked for."""

    values: Floats
    decimals: int
    times: Times | None
    groups: tuple[str, ...]
    came_from: Mapping[str, Sequence[str]]


def column_chart(
    column: Column,
    *,
    kind: ChartKind = "individuals",
    design: Design | None = None,
) -> ChartFacts:
    """One chart of a column; raises ImportRefused or InputError with every problem."""
    series, window = _read(column, read_cells(column))
    found = described(series, wrong=None, zone=UTC)
    other = other_kind(series, window, kind, design or Design(), mark=".")
    words = found.sentence
    if series.limits is None:
        words = f"{column.name}: {table_without_limits(series)}."
    return chart_facts(
        series,
        state=state_of(found),
        words=words,
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
    return figures_of(
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


def read_cells(column: Column) -> Cells:
    """The column with its times and groups; raises ImportRefused or InputError with every problem."""
    sheet = read_grid(column.file, None)[0]
    head, heads = _head(sheet)
    place = _place(column.file, heads, column.name)
    rows = range(head + 1, len(sheet.rows) + 1)
    texts = [sheet.text(row, place) for row in rows]
    values, decimals = _numbers(column, texts)
    while texts and not texts[-1]:
        texts.pop()
    values = values[: len(texts)]
    times, groups = None, list[str]()
    if column.times is not None:
        where = _place(column.file, heads, column.times)
        times = _times(column, [sheet.text(row, where) for row in rows][: len(texts)], values)
    if column.group is not None:
        where = _place(column.file, heads, column.group)
        groups = _groups(column, [sheet.text(row, where) for row in rows][: len(texts)], values)
    origins = {}
    for name in column.came_from:
        where = _place(column.file, heads, name)
        found = [sheet.text(row, where) for row in rows][: len(texts)]
        origins[name.strip().lower()] = [text for text, one in zip(found, texts, strict=True) if one]
    _check(column, values)
    return Cells(values, decimals, times, tuple(groups), origins)


def _read(column: Column, cells: Cells) -> tuple[Series, Floats]:
    """The column as a series, and the values of its baseline."""
    values = cells.values
    window = np.empty(0) if column.baseline is None else values[column.baseline[0] - 1 : column.baseline[1]]
    limits = None if column.baseline is None else charts.freeze(window)
    return _series(column, values, cells.times, cells.decimals, limits), window


def _head(sheet: Sheet) -> tuple[int, tuple[str, ...]]:
    """The first row with anything in it, from 1, and its cells."""
    for number, cells in enumerate(sheet.rows, start=1):
        if any(cells):
            return number, cells
    return 0, ()


def _place(file: Path, heads: tuple[str, ...], name: str) -> int:
    """The column with this head."""
    matching = [place for place, head in enumerate(heads) if head.casefold() == name.strip().casefold()]
    if not matching:
        known = [head for head in heads if head]
        raise InputError(Problem(file.name, f"has no column '{name}'", nearest(name, known)))
    if len(matching) > 1:
        raise InputError(
            Problem(file.name, f"has {len(matching)} columns '{name}'", "give each its own head")
        )
    return matching[0]


def _numbers(column: Column, texts: list[str]) -> tuple[Floats, int]:
    """The numbers, NaN for an empty cell, and the decimals they are written with; raises for bad rows."""
    values: list[float] = []
    problems: list[Problem] = []
    decimals = 0
    for row, text in enumerate(texts, start=1):
        if not text:
            values.append(np.nan)
            continue
        try:
            values.append(parse_number(text, where=f"{column.name}, row {row}").value)
        except SandlabError as error:
            problems += error.problems
            continue
        decimals = max(decimals, len(text.replace(",", ".").partition(".")[2]))
    if problems:
        more = len(problems) - MOST_PROBLEMS
        rest = [Problem(column.file.name, f"{more} more rows", "put them right too")] if more > 0 else []
        raise InputError([*problems[:MOST_PROBLEMS], *rest])
    return np.array(values, dtype=np.float64), min(decimals, MOST_DECIMALS)


def _times(column: Column, texts: list[str], values: Floats) -> Times:
    """ISO times, those without an offset as UTC; raises where there is none or they do not ascend."""
    found: list[int] = []
    problems: list[Problem] = []
    for row, (text, value) in enumerate(zip(texts, values.tolist(), strict=True), start=1):
        where = f"{column.times}, row {row}"
        if not text and np.isnan(value):
            found.append(found[-1] + 1 if found else 0)
            continue
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            problems.append(Problem(where, f"'{text}' is not a time", "write for example 2026-03-01 14:00"))
            continue
        at = microseconds(moment if moment.tzinfo else moment.replace(tzinfo=UTC))
        # Tests of one subgroup may have been taken at one moment.
        if found and (at < found[-1] or (at == found[-1] and column.group is None)):
            do = "sort the rows by time, and join tests of one time"
            problems.append(Problem(where, f"'{text}' is not after the time before it", do))
        found.append(at)
    if problems:
        raise InputError(problems[:MOST_PROBLEMS])
    return np.array(found, dtype=np.int64)


def _groups(column: Column, texts: list[str], values: Floats) -> list[str]:
    """The label of each row's group; raises where a test has none."""
    missing = [row for row, text in enumerate(texts) if not text and not np.isnan(values[row])]
    if missing:
        raise InputError(
            [
                Problem(f"{column.group}, row {row + 1}", "names no group", "fill it in, or empty the test")
                for row in missing[:MOST_PROBLEMS]
            ]
        )
    return texts


def _check(column: Column, values: Floats) -> None:
    if np.isnan(values).all():
        raise InputError(Problem(column.name, "holds no number", "choose another column"))
    problems = []
    low, high = column.tolerance
    if low is not None and high is not None and low >= high:
        problems.append(Problem("tolerance", f"lower {low:g} is not below upper {high:g}", "exchange them"))
    if column.baseline is not None:
        first, last = column.baseline
        if not 1 <= first <= last <= values.size:
            what = f"rows {first} to {last} are not in the table"
            problems.append(Problem("baseline rows", what, f"give two numbers from 1 to {values.size}"))
    if problems:
        raise InputError(problems)


def _series(
    column: Column, values: Floats, times: Times | None, decimals: int, limits: charts.Limits | None
) -> Series:
    """Every row is a slot; those with a number are points."""
    measured = ~np.isnan(values)
    places = np.where(measured, np.cumsum(measured) - 1, -1).astype(np.intp)
    slots = np.flatnonzero(measured).tolist()
    points = tuple(
        PointFacts(
            at=None if times is None else datetime.fromtimestamp(int(times[slot]) / 1e6, UTC),
            value=float(values[slot]),
            sample=f"row {slot + 1}",
            by="",
            corrected=False,
            flags=(),
        )
        for slot in slots
    )
    low, high = column.tolerance
    return Series(
        name=column.name,
        label=column.name,
        short=column.name[:6],
        unit="",
        decimals=decimals,
        values=values,
        places=places,
        times_us=times,
        points=points,
        limits=limits,
        baseline=None if limits is None else _baseline(column, limits),
        tolerance=None if low is None and high is None else (low, high),
    )


def _baseline(column: Column, limits: charts.Limits) -> BaselineFacts:
    first, last = column.baseline or (0, 0)
    return BaselineFacts(
        baseline="",
        frozen_by="",
        frozen_at=None,
        reason=f"rows {first} to {last} of {column.file.name}",
        window_from=None,
        window_to=None,
        excluded=(),
        count=limits.count,
        centre=limits.centre,
        lower=limits.lower,
        upper=limits.upper,
        sigma=limits.sigma,
        sigma_moving_range=limits.sigma_moving_range,
        lag1=limits.lag1,
        width=limits.width,
    )
