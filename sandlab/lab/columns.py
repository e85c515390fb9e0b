"""Columns of any table as numbers, times and groups: read whole, every problem told at once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt

from sandlab.errors import InputError, Problem, SandlabError, nearest
from sandlab.exchange.grid import read_grid
from sandlab.lab.series import Floats, Times, microseconds
from sandlab.lab.showing import bound_flag, bounds_words
from sandlab.quantities import parse_number

MOST_PROBLEMS = 10
MOST_DECIMALS = 6


@dataclass(frozen=True, slots=True)
class Column:
    """Which numbers of which table: file, head of the column, rows of the baseline, times, tolerance, groups.

    `known` are centre and standard deviation that are given in place of a baseline; `came_from` are heads of
    columns that tell where each test came from, such as muller or operator. Rows count from 1 below the head.
    Empty cells are missing tests.
    """

    file: Path
    name: str
    baseline: tuple[int, int] | None = None
    times: str | None = None
    tolerance: tuple[float | None, float | None] = (None, None)
    group: str | None = None
    came_from: tuple[str, ...] = ()
    known: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """A column as read: a value per row, the decimals to show, times and labels of groups where asked for.

    `bounds` are the texts of cells that only name a bound, such as <0.5, by their row from 1.
    """

    values: Floats
    decimals: int
    times: Times | None
    groups: tuple[str, ...]
    came_from: Mapping[str, Sequence[str]]
    bounds: Mapping[int, str]

    def flags(self, row: int) -> tuple[str, ...]:
        """What has to be known of the value in a row, from 1."""
        return (bound_flag(self.bounds[row]),) if row in self.bounds else ()


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Several columns as read: a row per sample, NaN where missing; decimals and bounds by column."""

    values: Floats
    decimals: Mapping[str, int]
    times: Times | None
    bounds: Mapping[str, Mapping[int, str]]


def read_cells(column: Column) -> Cells:
    """The column with its times and groups; raises ImportRefused or InputError with every problem."""
    table = _Table(column.file)
    texts = table.texts(column.name)
    while texts and not texts[-1]:
        texts.pop()
    values, decimals, bounds = _numbers(column, texts)
    measured = ~np.isnan(values)
    times, groups = None, list[str]()
    if column.times is not None:
        times = _times(column, table.texts(column.times)[: len(texts)], measured)
    if column.group is not None:
        groups = _groups(column, table.texts(column.group)[: len(texts)], measured)
    origins = {}
    for name in column.came_from:
        found = table.texts(name)[: len(texts)]
        origins[name.strip().lower()] = [text for text, one in zip(found, texts, strict=True) if one]
    _check(column, values)
    return Cells(values, decimals, times, tuple(groups), origins, bounds)


def read_samples(column: Column, names: Sequence[str]) -> Samples:
    """Several columns of one table side by side; raises ImportRefused or InputError with every problem."""
    table = _Table(column.file)
    problems: list[Problem] = []
    found: dict[str, tuple[Floats, int, Mapping[int, str]]] = {}
    for name in names:
        one = replace(column, name=name, baseline=None)
        try:
            cells = _numbers(one, table.texts(name))
            _check(one, cells[0])
            found[name] = cells
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    values = np.column_stack([cells[0] for cells in found.values()])
    measured: npt.NDArray[np.bool_] = np.logical_not(np.isnan(values).all(axis=1))
    size = int(np.flatnonzero(measured)[-1]) + 1
    times = None
    if column.times is not None:
        times = _times(column, table.texts(column.times)[:size], measured[:size])
    _check(column, values[:size, 0], empty=True)
    decimals = {name: cells[1] for name, cells in found.items()}
    return Samples(values[:size], decimals, times, {name: cells[2] for name, cells in found.items()})


def bounds_told(bounds: Mapping[int, str], name: str = "") -> str:
    """That rows hold bounds, as a sentence that can follow another; empty where none does."""
    return bounds_words([f"row {row} ({text})" for row, text in bounds.items()], name)


class _Table:
    """The first sheet of a file: its head and the cells below it."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.sheet = read_grid(file, None)[0]
        rows = enumerate(self.sheet.rows, start=1)
        self.head, self.heads = next(((number, cells) for number, cells in rows if any(cells)), (0, ()))

    def texts(self, name: str) -> list[str]:
        """The cells below a head; raises InputError where it is not there, or there twice."""
        wanted = name.strip().casefold()
        matching = [place for place, head in enumerate(self.heads) if head.casefold() == wanted]
        if not matching:
            known = [head for head in self.heads if head]
            raise InputError(Problem(self.file.name, f"has no column '{name}'", nearest(name, known)))
        if len(matching) > 1:
            what = f"has {len(matching)} columns '{name}'"
            raise InputError(Problem(self.file.name, what, "give each its own head"))
        return [self.sheet.text(row, matching[0]) for row in range(self.head + 1, len(self.sheet.rows) + 1)]


def _numbers(column: Column, texts: list[str]) -> tuple[Floats, int, Mapping[int, str]]:
    """The numbers, NaN for an empty cell, the decimals to show and the bounds; raises for bad rows."""
    values: list[float] = []
    bounds: dict[int, str] = {}
    problems: list[Problem] = []
    decimals = 0
    for row, text in enumerate(texts, start=1):
        if not text:
            values.append(np.nan)
            continue
        try:
            typed = parse_number(text, where=f"{column.name}, row {row}")
        except SandlabError as error:
            problems += error.problems
            continue
        values.append(typed.value)
        if typed.censored:
            bounds[row] = text
        decimals = max(decimals, len(text.replace(",", ".").partition(".")[2]))
    if problems:
        more = len(problems) - MOST_PROBLEMS
        rest = [Problem(column.file.name, f"{more} more rows", "put them right too")] if more > 0 else []
        raise InputError([*problems[:MOST_PROBLEMS], *rest])
    found = np.array(values, dtype=np.float64)
    return found, min(decimals, _telling_decimals(found), MOST_DECIMALS), bounds


def _telling_decimals(values: Floats) -> int:
    """Decimals that show the spread to two or three digits; programs write more than was measured."""
    measured = values[~np.isnan(values)]
    if not measured.size:
        return MOST_DECIMALS
    low, high = np.quantile(measured, (0.25, 0.75)).tolist()
    return MOST_DECIMALS if high <= low else max(0, 2 - math.floor(math.log10(high - low)))


def _times(column: Column, texts: list[str], measured: npt.NDArray[np.bool_]) -> Times:
    """ISO times, those without an offset as UTC; raises where there is none or they do not ascend."""
    found: list[int] = []
    problems: list[Problem] = []
    for row, (text, tested) in enumerate(zip(texts, measured.tolist(), strict=True), start=1):
        where = f"{column.times}, row {row}"
        if not text and not tested:
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


def _groups(column: Column, texts: list[str], measured: npt.NDArray[np.bool_]) -> list[str]:
    """The label of each row's group; raises where a test has none."""
    missing = [row for row, text in enumerate(texts) if not text and measured[row]]
    if missing:
        raise InputError(
            [
                Problem(f"{column.group}, row {row + 1}", "names no group", "fill it in, or empty the test")
                for row in missing[:MOST_PROBLEMS]
            ]
        )
    return texts


def _check(column: Column, values: Floats, *, empty: bool = False) -> None:
    """Raise for a column without a number, unless it may be `empty`, and for options that cannot be."""
    if not empty and np.isnan(values).all():
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
