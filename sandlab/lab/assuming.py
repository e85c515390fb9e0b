"""What nobody wrote down: batches are taken as they were set, hours without a job as the specs' usual one."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sandlab.balance.log import Log
from sandlab.balance.stream import HOUR_US, BatchMade, Event, Production, ResultKnown
from sandlab.lab.asking import usual_way
from sandlab.lab.conditions import settings_since
from sandlab.lab.opening import Lab
from sandlab.lab.showing import clock_text
from sandlab.quantities import format_number
from sandlab.store.rows import microseconds, moment_of

THIN = 0.5  # share of the batches of the hours that ran below which the log counts as thin
AROUND_US = HOUR_US  # the line is taken to have run so long before and after a test


OTHER_METAL, OTHER_CORES = 0.05, 0.02  # share of sand:metal, and t of core sand per t, worth a word


@dataclass(frozen=True, slots=True)
class Filled:
    """The stream with assumed batches, and in words how many."""

    events: tuple[Event, ...]
    doubts: tuple[str, ...]


def assumed_batches(lab: Lab, events: Sequence[Event], *, since: datetime, until: datetime) -> Filled:
    """The stream as it is when most batches were logged, else with the missing ones as they were set.

    The hours that ran are those with production written down, and an hour before and after every test.
    """
    per_h = lab.sand.muller.batches_per_h
    spans = _ran(events, microseconds(since), microseconds(until))
    expected = sum(end - start for start, end in spans) / HOUR_US * per_h
    logged = sorted((one for one in events if isinstance(one, BatchMade)), key=lambda one: one.at_us)
    if len(logged) >= THIN * expected:
        return Filled(tuple(events), ())
    settings = _settings(lab, logged, since)
    step, times = int(HOUR_US / per_h), [one.at_us for one in logged]
    added: list[Event] = []
    for start, end in spans:
        for at_us in range(start, end, step):
            if not _near(times, at_us, step // 2):
                place = bisect_right(settings, at_us, key=lambda one: one[0]) - 1
                added.append(BatchMade(at_us, settings[max(0, place)][1]))
    words = (
        f"{len(logged)} of about {round(expected)} batches were logged since "
        f"{since.astimezone(lab.zone):%d %b}: the others are taken as they were set"
    )
    return Filled(_merged(events, added), (words,))


def _ran(events: Sequence[Event], first: int, last: int) -> list[tuple[int, int]]:
    """Stretches of time in which the line ran, apart from each other and in order."""
    spans = [(one.at_us, one.until_us) for one in events if isinstance(one, Production)]
    spans += [
        (one.taken_us - AROUND_US, one.taken_us + AROUND_US) for one in events if isinstance(one, ResultKnown)
    ]
    merged: list[tuple[int, int]] = []
    for start, end in sorted((max(start, first), min(end, last)) for start, end in spans):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        elif start < end:
            merged.append((start, end))
    return merged


def _settings(
    lab: Lab, logged: Sequence[BatchMade], since: datetime
) -> list[tuple[int, Mapping[str, float]]]:
    """What was set from when on: releases and overrides, and what a logged batch shows of it."""
    changes = [(microseconds(at), 0, dict(kg)) for at, kg in settings_since(lab, since)]
    changes += [(one.at_us, 1, dict(one.added_kg)) for one in logged]
    found: list[tuple[int, Mapping[str, float]]] = []
    kg: dict[str, float] = {}
    for at_us, _, changed in sorted(changes, key=lambda one: one[:2]):
        kg = kg | changed
        found.append((at_us, kg))
    return found


def _near(times: Sequence[int], at_us: int, within: int) -> bool:
    place = bisect_right(times, at_us)
    return any(abs(times[i] - at_us) <= within for i in (place - 1, place) if 0 <= i < len(times))


def _merged(events: Sequence[Event], added: Sequence[Event]) -> tuple[Event, ...]:
    """Assumed batches before whatever became known at the same time or later."""

    def when(event: Event) -> int:
        return event.known_us if isinstance(event, ResultKnown) else event.at_us

    merged, waiting = [], sorted(added, key=when)
    for event in events:
        while waiting and when(waiting[0]) <= when(event):
            merged.append(waiting.pop(0))
        merged.append(event)
    return (*merged, *waiting)


def unplanned_words(lab: Lab, log: Log, now: datetime) -> tuple[str, ...]:
    """Whether an advice reckons with the specs' job though the last days ran otherwise, and from when on."""
    at_us, loop = microseconds(now), lab.sand.loop
    free_us = log.told_until(at_us)
    ratio, core = usual_way(lab, now)
    alike = abs(ratio / loop.sand_to_metal - 1.0) <= OTHER_METAL
    alike = alike and abs(core - loop.core_sand_t_per_t) <= OTHER_CORES
    if alike or free_us >= at_us + int(log.plant.interval_h * HOUR_US):
        return ()

    def said(sand_to_metal: float, core_sand: float) -> str:
        metal, cores = (
            format_number(value, places, mark=lab.mark)
            for value, places in ((sand_to_metal, 2), (core_sand, 3))
        )
        return f"sand to metal {metal} and core sand {cores} t/t"

    when = clock_text(moment_of(free_us), lab.zone, now)
    usual, lately = said(loop.sand_to_metal, loop.core_sand_t_per_t), said(ratio, core)
    return (
        f"no job is planned after {when}: reckoned with {usual} as in the specs, the last 10 days ran with "
        f"{lately}; write down what comes with sandlab planned",
    )
