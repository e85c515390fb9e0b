"""Tests taken of those that were due while the sand ran: nobody tests on an idle night or weekend."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from sandlab import schedule
from sandlab.lab.opening import Lab
from sandlab.lab.periods import Period
from sandlab.lab.showing import age_words
from sandlab.records import Batch, Production
from sandlab.specs import TestSet

Running = tuple[datetime, datetime]
PAUSE = timedelta(hours=2)
"""Batches no further apart belong to one stretch of running: not every batch is logged."""
NO_PAUSE = timedelta()
BEFORE = timedelta(days=2)
"""Production that began so long before the period may reach into it."""


def tests_done(lab: Lab, period: Period) -> str:
    """How many of the scheduled tests of each set were taken, and in which hours they were counted as due."""
    since = period.since or datetime.fromtimestamp(0, UTC)
    until = min(period.until or lab.now(), lab.now())
    ran = running(lab, since, until)
    counted = []
    for one in lab.sand.schedule.values():
        taken, due = _counted(lab, one, since, until, ran)
        if due:
            counted.append(f"{one.label}: {taken} of {due}")
    if not counted:
        return ""
    if ran is None:
        why = "no production or batch is written down, so every hour counts as running"
    else:
        hours, whole = (
            age_words(sum((end - start for start, end in each), timedelta()) / timedelta(minutes=1))
            for each in (ran, [(since, until)])
        )
        why = f"counted while production or batches are written down, {hours} of {whole}"
    return f"Tests taken of those due: {', '.join(counted)} ({why})."


def running(lab: Lab, since: datetime, until: datetime) -> list[Running] | None:
    """When the sand ran, by production with metal and by batches; None where neither is written down."""
    poured = [
        (max(one.at, since), min(one.until, until))
        for one in lab.store.records(Production, lab.system, since=since - BEFORE, until=until)
        if one.metal_t and one.until > since
    ]
    batches = lab.store.frame(Batch, lab.system, since=since, until=until)["at"].to_list()
    made = _joined([(at, at) for at in batches], PAUSE)
    return _joined([*poured, *made], NO_PAUSE) or None


def _joined(found: Sequence[Running], pause: timedelta) -> list[Running]:
    """Stretches no further apart than a pause as one."""
    joined: list[Running] = []
    for start, end in sorted(found):
        if joined and start - joined[-1][1] <= pause:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined


def _counted(
    lab: Lab, test_set: TestSet, since: datetime, until: datetime, ran: Sequence[Running] | None
) -> tuple[int, int]:
    """Times of a set that were tested, and those due: tested, or the sand ran in half the interval after.

    Not the whole: Monday morning makes no test of Sunday due. As in the schedule a sample counts for a time
    from its grace before it on.
    """
    interval = timedelta(minutes=schedule.interval_min(test_set))
    early = min(timedelta(minutes=test_set.grace_min), interval / 2)
    due = schedule.due_times(test_set, zone=lab.zone, start=since, end=until + early)
    frame = lab.store.results_of(
        lab.system, test_set.properties, since=since - early, until=until, point=test_set.point
    )
    taken = {bisect_right(due, at + early) - 1 for at in frame["taken_at"].unique().to_list()}
    slots = range(bisect_right(due, until))
    in_use = {
        place
        for place in slots
        if ran is None or any(_meet(one, (due[place], due[place] + interval / 2)) for one in ran)
    }
    taken &= set(slots)
    return len(taken), len(in_use | taken)


def _meet(ran: Running, slot: Running) -> bool:
    """Whether the sand ran in a slot, whose end does not belong to it; a single batch is a moment."""
    return ran[0] < slot[1] and (ran[1] > slot[0] or ran[0] >= slot[0])
