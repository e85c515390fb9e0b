"""What else could make tests swing in turn, before over-correction is suspected: a label for each test."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence

from sandlab import schedule
from sandlab.lab.opening import Lab
from sandlab.lab.series import Series
from sandlab.lab.sources import rows
from sandlab.records import Receipt

BLOCK_H = 8


def came_from(lab: Lab, name: str, series: Series) -> Mapping[str, Sequence[str]]:
    """Who tested each sample, where, how and when, from which muller, and on which delivery the sand ran."""
    # One muller and one place are described for each system: they cannot make tests swing.
    found: dict[str, Sequence[str]] = {
        "operator": [point.by for point in series.points],
        "muller": ["one"] * series.count,
        "sampling point": [schedule.home_point(lab.sand, name)] * series.count,
        "time of day": _times_of_day(lab, series),
        "delivery": _deliveries(lab, series),
    }
    if name in lab.specs.properties:
        ways = {
            str(row["sample"]): str(row["method"])
            for row in rows(lab, name, last=series.count).iter_rows(named=True)
        }
        found["method"] = [ways.get(point.sample, "") for point in series.points]
    return found


def _times_of_day(lab: Lab, series: Series) -> list[str]:
    """The block of eight hours, from midnight, that each test falls into."""
    hours = [one.at.astimezone(lab.zone).hour if one.at else 0 for one in series.points]
    return [f"from {BLOCK_H * (hour // BLOCK_H)}:00" for hour in hours]


def _deliveries(lab: Lab, series: Series) -> list[str]:
    """The material and day of the last delivery before each test."""
    until = series.points[-1].at if series.points else None
    came = sorted(lab.store.records(Receipt, lab.system, until=until), key=lambda one: one.at)
    times = [one.at for one in came]
    found = []
    for point in series.points:
        place = 0 if point.at is None else bisect_right(times, point.at)
        found.append(f"{came[place - 1].material} of {times[place - 1]:%Y-%m-%d}" if place else "before any")
    return found
