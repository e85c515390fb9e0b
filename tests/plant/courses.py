"""Runs of the simulated foundry as plain series, many plants side by side, for the exam of the charts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from sandlab.charts import Limits, freeze, signals
from sandlab.plant import DEMO_DAYS, ZONE
from sandlab.plant.calendar import Calendar
from sandlab.plant.faults import BASELINE_FROM_H, BASELINE_TO_H, Fault
from sandlab.plant.history import WARM_UP
from sandlab.plant.running import run
from sandlab.plant.visits import NOISE, SETS, sets_due

Floats = npt.NDArray[np.float64]
UNTIL = datetime(2025, 5, 23, 12, tzinfo=UTC)
AT_ONCE = 60


@cache
def calendar() -> Calendar:
    """The running hours of the demo's length."""
    return Calendar(UNTIL - timedelta(days=DEMO_DAYS) - WARM_UP, UNTIL, ZoneInfo(ZONE))


@cache
def due(name: str) -> npt.NDArray[np.bool_]:
    """Running hours in which a property is due."""
    sets = [sets_due(local) for local in calendar().locals]
    return np.array([any(name in SETS[one] for one in each) for each in sets])


def to_end(name: str) -> Floats:
    """Running hours to the end at each slot of a property."""
    return (len(calendar().hours) - np.arange(len(calendar().hours), dtype=np.float64))[due(name)]


def measured(plants: Sequence[tuple[int, Sequence[Fault]]]) -> list[dict[str, Floats]]:
    """What the laboratory measures at each plant (seed, faults): one value per slot, NaN where missed."""
    found: list[dict[str, Floats]] = []
    for first in range(0, len(plants), AT_ONCE):
        courses, _ = run(plants[first : first + AT_ONCE], calendar())
        for course in courses:
            values = course.measured()
            found.append({name: values[name][due(name)] for name in NOISE})
    return found


def baseline(name: str) -> npt.NDArray[np.bool_]:
    """Slots of the quiet baseline."""
    hours = to_end(name)
    return (hours <= BASELINE_FROM_H) & (hours > BASELINE_TO_H)


def limits(name: str, values: Floats) -> Limits:
    """Limits from the quiet baseline by its overall standard deviation."""
    return freeze(values[baseline(name)])


def alarms(values: Floats, frozen: Limits, side: str | None = None) -> npt.NDArray[np.intp]:
    """Places of the alarms by the charts' own rule; one side or both."""
    found = signals(values, frozen, rules=["beyond_limit"])
    return np.array(
        [one.index for one in found if one.alarm and side in (None, one.side)],
        dtype=np.intp,
    )
