"""The individuals and moving-range chart of one property."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sandlab.charts.baseline import FLAG_WORDS, MINIMUM_BASELINE, Limits
from sandlab.charts.estimates import as_series, moving_ranges
from sandlab.charts.normal import Floats
from sandlab.charts.signals import Signal, signals
from sandlab.errors import impossible

State = Literal["in control", "signal", "no baseline", "too few"]
RECENT = 5


@dataclass(frozen=True, slots=True, eq=False)
class IndividualsChart:
    """One property against its frozen limits.

    `zones` per point: 1 within one sigma of the centre, 2 within two, 3 within the limit, 4 beyond it,
    negative below the centre, 0 for a missing test or without usable limits. `moving_range_beyond` are the
    places of moving ranges above their limit. `latest_alarm` is the alarm that `state` speaks of.
    """

    values: Floats
    times_us: npt.NDArray[np.int64] | None
    limits: Limits | None
    moving_ranges: Floats
    moving_range_beyond: tuple[int, ...]
    zones: npt.NDArray[np.int8]
    signals: tuple[Signal, ...]
    state: State
    latest_alarm: Signal | None
    sentence: str


def individuals(
    values: npt.ArrayLike,
    times_us: npt.ArrayLike | None,
    limits: Limits | None,
    *,
    rules: Iterable[str] | None = None,
    alarms: Iterable[str] | None = None,
    decimals: int = 2,
    unit: str = "",
    recent: int = RECENT,
) -> IndividualsChart:
    """The individuals chart of `values` against frozen `limits`, with its signals and its state in words.

    values: one per slot, NaN where missing; a corrected test is just its present value [unit of the property]
    times_us: when each was taken, ascending, or None [us]
    limits: frozen baseline, None without one [unit of the property]
    rules: keys of the rules shown, None for all [word]
    alarms: keys of the rules that alarm, None for those that do by default [word]
    decimals: of the numbers in words [1]
    unit: behind the numbers in words [word]
    recent: the state is "signal" while an alarm lies among that many last measured values [1]
    returns: the chart, its points, signals, state and sentence [unit of the property]

    Errors: InputError for infinite values, and for times that do not ascend or do not match the values.
    Source: nist_handbook, 6.3.2.2; rules: western_electric, nelson1984.
    """
    series = as_series(values)
    times = None if times_us is None else _times(times_us, series.size)
    measured = np.flatnonzero(~np.isnan(series))
    ranges = moving_ranges(series)
    usable = limits is not None and limits.usable
    found: tuple[Signal, ...] = ()
    beyond: tuple[int, ...] = ()
    zones = np.zeros(series.size, dtype=np.int8)
    if limits is not None and usable:
        found = signals(series, limits, rules=rules, alarms=alarms, decimals=decimals, unit=unit)
        beyond = tuple(np.flatnonzero(ranges > limits.moving_range_upper).tolist())
        zones = zones_of(series, limits)
    latest = _latest_alarm(found, measured, recent)
    state = _state(limits, measured.size, latest)
    return IndividualsChart(
        values=series,
        times_us=times,
        limits=limits,
        moving_ranges=ranges,
        moving_range_beyond=beyond,
        zones=zones,
        signals=found,
        state=state,
        latest_alarm=latest,
        sentence=_sentence(state, limits, measured, latest),
    )


def zones_of(values: npt.ArrayLike, limits: Limits) -> npt.NDArray[np.int8]:
    """The zone of each value as in IndividualsChart; raises InputError for limits of a constant baseline."""
    if not limits.usable:
        raise impossible("limits", FLAG_WORDS["constant"], "freeze a baseline whose values vary")
    series = as_series(values)
    zones = np.ones(series.size, dtype=np.int8)
    high, low = series > limits.upper, series < limits.lower
    distance = np.abs(series - limits.centre) / limits.sigma
    zones[distance > 1.0] = 2
    zones[distance > 2.0] = 3
    zones[high | low] = 4
    zones[series < limits.centre] *= -1
    zones[np.isnan(series)] = 0
    return zones


def _times(times_us: npt.ArrayLike, count: int) -> npt.NDArray[np.int64]:
    times = np.asarray(times_us, dtype=np.int64)
    if times.shape != (count,):
        raise impossible("times", f"{times.size} times for {count} values", "give one time per value")
    back = np.flatnonzero(np.diff(times) <= 0)
    if back.size:
        place = int(back[0]) + 2
        raise impossible(
            "times", f"time {place} is not after the one before", "sort, and join repeated times"
        )
    return times


def _latest_alarm(found: tuple[Signal, ...], measured: npt.NDArray[np.intp], recent: int) -> Signal | None:
    """The first-listed alarm at the latest alarming point, if that is among the last `recent` tests."""
    alarms = [signal for signal in found if signal.alarm]
    if not alarms:
        return None
    last = alarms[-1].index
    if int(np.count_nonzero(measured >= last)) > recent:
        return None
    return next(signal for signal in alarms if signal.index == last)


def _state(limits: Limits | None, measured: int, latest: Signal | None) -> State:
    if measured == 0 or (limits is None and measured < MINIMUM_BASELINE):
        return "too few"
    if limits is None or not limits.usable:
        return "no baseline"
    return "in control" if latest is None else "signal"


def _sentence(
    state: State, limits: Limits | None, measured: npt.NDArray[np.intp], latest: Signal | None
) -> str:
    if state == "too few":
        if limits is not None:
            return "No test measured yet."
        return f"{measured.size} of the {MINIMUM_BASELINE} tests that a baseline needs."
    if limits is None:
        return "No baseline frozen: choose a quiet window and freeze its limits."
    if not limits.usable:
        return f"No limits: {FLAG_WORDS['constant']}."
    if latest is None:
        known = "the limits given" if limits.behind is None else f"limits from {limits.count} tests"
        return f"In control against {known}."
    since = int(np.count_nonzero(measured > latest.index))
    when = {0: "at the last test", 1: "one test ago"}.get(since, f"{since} tests ago")
    return f"Signal {when}: {latest.reason}."
