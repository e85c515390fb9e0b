"""What the sand balance did not foresee, charted: each test less what was expected of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from sandlab import charts
from sandlab.balance.innovations import FORESEEN, Innovation
from sandlab.errors import impossible
from sandlab.lab.assembling import chart_facts, newest, signal_facts
from sandlab.lab.charting import LOOK_BACK
from sandlab.lab.describing import described, state_of
from sandlab.lab.designs import Design
from sandlab.lab.facts import ChartFacts, ChartKind, EventFacts, PointFacts
from sandlab.lab.foreseen import foreseen_property, innovation_of
from sandlab.lab.kinds import KINDS, other_kind
from sandlab.lab.learning import Untold, recalled, untold, window_start
from sandlab.lab.opening import Lab
from sandlab.lab.series import Series, microseconds, moment_of, slotted, unfrozen
from sandlab.lab.showing import with_unit
from sandlab.lab.sources import rows, usual_interval_min
from sandlab.lab.timeline import events
from sandlab.labels import inside

# The balance is run over so many days for a chart of what it did not foresee.
WINDOW = timedelta(days=30)
UNIT = "deviations"
REASON = "the standard deviations that the balance itself expects"

Whose = Mapping[tuple[str, int], tuple[str, str]]
"""Sample and who measured it, by property and time taken."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """All that a chart of innovations needs from the store."""

    lab: Lab
    since: datetime
    known: Untold
    whose: Whose
    notes: tuple[EventFacts, ...]


@dataclass(frozen=True, slots=True)
class Met:
    """The innovations of the window, oldest first."""

    gathered: Gathered
    all: tuple[Innovation, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """What of a chart of innovations is to be shown, and how."""

    last: int = 120
    kind: ChartKind = "individuals"
    design: Design | None = None
    since: datetime | None = None
    until: datetime | None = None


def foreseen(lab: Lab) -> list[str]:
    """The properties of which the balance foresees something at this plant."""
    return [name for name in FORESEEN if name in lab.specs.properties]


def gather(lab: Lab, names: Sequence[str]) -> Gathered:
    """Read what the balance was told in the window; raises InputError where it foresees nothing."""
    properties = [foreseen_property(name) for name in names]
    known = foreseen(lab)
    for name, property in zip(names, properties, strict=True):
        if property not in known:
            do = f"it foresees {', '.join(map(innovation_of, known))}"
            raise impossible(name, "is nothing that the balance foresees", do)
    now = lab.now()
    since = window_start(now, WINDOW)
    whose: dict[tuple[str, int], tuple[str, str]] = {}
    for property in properties:
        frame = rows(lab, property, since=since).select("taken_at", "sample", "by")
        whose |= {(property, microseconds(at)): (sample, by) for at, sample, by in frame.iter_rows()}
    return Gathered(lab, since, untold(lab, since, now), whose, events(lab, since))


def met(gathered: Gathered, progress: Callable[[float], None] = lambda share: None) -> Met:
    """Run the balance over the window; reads nothing from the store, so it may run beside it."""
    return Met(gathered, recalled(gathered.known, progress).recommender.innovations())


def innovation_chart(found: Met, name: str, shown: Shown) -> ChartFacts:
    """The chart of what the balance did not foresee of a property; reads nothing from the store."""
    lab = found.gathered.lab
    series = _series(found, name)
    told = described(newest(series, LOOK_BACK), wrong=None, zone=lab.zone, now=lab.now())
    asked = shown.since is not None or shown.until is not None
    drawn = (
        _series(found, name, since=shown.since, until=shown.until) if asked else newest(series, shown.last)
    )
    other = other_kind(drawn, np.empty(0), shown.kind, shown.design or Design(), mark=lab.mark)
    facts = chart_facts(
        drawn,
        state=state_of(told),
        words=told.sentence if series.count else _silent(found, series),
        kind=shown.kind,
        other=other,
        signals=other.signals if other.drawn else signal_facts(drawn, drawn.individuals()),
        found=told,
        wrong=told.wrong,
    )
    start = drawn.points[0].at if drawn.points else None
    notes = tuple(one for one in found.gathered.notes if start is not None and one.at >= start)
    return facts.model_copy(update={"events": notes, "kinds": KINDS})


def chart(lab: Lab, name: str, shown: Shown) -> ChartFacts:
    """The same in one go."""
    return innovation_chart(met(gather(lab, [name])), name, shown)


def _silent(found: Met, series: Series) -> str:
    days = WINDOW // timedelta(days=1)
    if not found.gathered.known.recommender.log.at:
        return f"No batch was logged in the last {days} days: the balance can foresee nothing without them."
    lab, property = found.gathered.lab, foreseen_property(series.name)
    if not any(one == property for one, _ in found.gathered.whose):
        return f"{series.label}: not tested in the last {days} days."
    methods = [one for one in lab.specs.methods.values() if one.property == property]
    sources = dict.fromkeys(name for one in methods for name in one.derived_from.values() if name in FORESEEN)
    instead = ", ".join(inside(lab.specs.properties[name].label) for name in sources)
    if not instead:
        return f"{series.label}: no test of the last {days} days is one that the balance takes."
    return (
        f"{series.label}: its tests are worked out from others ({instead}), which the balance takes in "
        "their place; look at what it did not foresee of those."
    )


def _series(found: Met, name: str, *, since: datetime | None = None, until: datetime | None = None) -> Series:
    """The innovations of one property against the limits that the balance promises."""
    lab, property = found.gathered.lab, foreseen_property(name)
    first = 0 if since is None else microseconds(since)
    last = None if until is None else microseconds(until)
    own = [
        one
        for one in found.all
        if one.property == property and one.taken_us >= first and (last is None or one.taken_us <= last)
    ]
    times = np.array([one.taken_us for one in own], dtype=np.int64)
    every = usual_interval_min(lab, property)
    values, places, slots = slotted(times, np.array([one.distance for one in own], dtype=np.float64), every)
    limits = charts.given_limits(0.0, 1.0)
    return Series(
        name=name,
        label=f"{lab.specs.properties[property].label}, measured less foreseen",
        short=lab.specs.properties[property].short,
        unit=UNIT,
        decimals=1,
        values=values,
        places=places,
        times_us=slots,
        points=tuple(_point(found, one) for one in own),
        every_min=every,
        limits=limits,
        baseline=unfrozen(limits, REASON),
        mark=lab.mark,
    )


def _point(found: Met, one: Innovation) -> PointFacts:
    sample, by = found.gathered.whose.get((one.property, one.taken_us), ("", ""))
    return PointFacts(
        at=moment_of(one.taken_us),
        value=one.distance,
        sample=sample,
        by=by,
        corrected=False,
        flags=(f"measured {with_unit(found.gathered.lab.specs, one.property, one.value)}",),
    )
