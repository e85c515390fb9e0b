"""Several columns of any table on one chart: Hotelling's T2 or moving averages, each signal in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sandlab import charts
from sandlab.charts.decomposition import LARGEST
from sandlab.errors import InputError, Problem
from sandlab.lab.column_charts import row_point
from sandlab.lab.columns import Column, Samples, bounds_told, read_samples
from sandlab.lab.facts import ChartFacts, ChartKind, ChartState, PointFacts, SignalFacts
from sandlab.lab.judged_together import KINDS_TOGETHER, Together, judged, said_together
from sandlab.lab.showing import bound_flag

RULE = "together"


def set_chart(
    column: Column, names: Sequence[str], *, kind: ChartKind = "individuals", weight: float | None = None
) -> ChartFacts:
    """Columns of one table judged together, a sample per row; a cell may be empty.

    `weight` is that of the newest sample in the moving averages of kind "ewma". Raises ImportRefused or
    InputError with every problem.
    """
    _require(names, kind)
    samples = read_samples(column, names)
    slots = np.flatnonzero(~np.isnan(samples.values).all(axis=1)).tolist()
    label = _listed(names)
    state: ChartState = "no_baseline"
    words = f"{label} together: {len(slots)} samples; "
    words += "for limits, name the rows they come from with --baseline-rows."
    apart, points = None, tuple[PointFacts, ...]()
    if column.baseline is not None:
        apart = _judged(column, samples, slots, kind, weight)
        state, words = said_together(label, len(names), apart)
        points = tuple(
            row_point(samples.times, slot, value or 0.0, _flags(samples, slot + 1))
            for slot, value in zip(slots, apart.drawn.values, strict=True)
        )
    return ChartFacts(
        property=RULE,
        label=f"{label} together",
        short="set",
        unit="",
        decimals=1,
        kind=kind,
        state=state,
        words=words + "".join(bounds_told(samples.bounds[name], name) for name in samples.bounds),
        kind_words="",
        wrong="",
        proposal="",
        change=None,
        baseline=None,
        baselines=(),
        target=None,
        tolerance=None,
        reaction=None,
        points=points,
        drawn=None if apart is None else apart.drawn,
        kinds=KINDS_TOGETHER,
        signals=() if apart is None else _signals(apart, points),
        events=(),
    )


def _require(names: Sequence[str], kind: ChartKind) -> None:
    """Raise for a kind that several columns have not, for too many of them and for one named twice."""
    folded = [name.strip().casefold() for name in names]
    problems = [
        Problem("column", f"'{name}' is named twice", "name each once")
        for place, name in enumerate(names)
        if folded[place] in folded[:place]
    ]
    if len(names) > LARGEST:
        problems.append(Problem("column", f"{len(names)} are named", f"name {LARGEST} or fewer"))
    if kind not in KINDS_TOGETHER:
        what = f"several columns have no chart of kind '{kind}'"
        problems.append(Problem("kind", what, f"kinds: {', '.join(KINDS_TOGETHER)}; or name one column"))
    if problems:
        raise InputError(problems)


def _judged(
    column: Column, samples: Samples, slots: list[int], kind: ChartKind, weight: float | None
) -> Together:
    """The samples against robust limits of the baseline's rows; empty rows are left out."""
    first, last = column.baseline or (0, 0)
    names = tuple(samples.decimals)
    limits = charts.freeze_multivariate(samples.values[first - 1 : last], names, method="robust")
    return judged(
        samples.values[slots],
        limits,
        kind=kind,
        name=_listed(names),
        labels={name: name for name in names},
        decimals=samples.decimals,
        weight=weight,
    )


def _signals(apart: Together, points: Sequence[PointFacts]) -> tuple[SignalFacts, ...]:
    """Samples beyond the limit, each with the column or the relation that is odd."""
    return tuple(
        SignalFacts(
            rule=RULE,
            alarm=True,
            at=points[place].at,
            index=place,
            members=(place,),
            side="up",
            reason=reason,
        )
        for place, reason in apart.reasons.items()
    )


def _flags(samples: Samples, row: int) -> tuple[str, ...]:
    """The cells of a row that only name a bound."""
    return tuple(
        f"{name} {bound_flag(bounds[row])}" for name, bounds in samples.bounds.items() if row in bounds
    )


def _listed(names: Sequence[str]) -> str:
    """Names as a list in words."""
    return f"{', '.join(names[:-1])} and {names[-1]}"
