"""Before limits are frozen: a quiet window, and the tests that would leave it with the reason for each."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from sandlab import charts
from sandlab.lab.facts import EventFacts, ExclusionFacts, ProposalFacts
from sandlab.lab.leaving import left_out
from sandlab.lab.opening import Lab
from sandlab.lab.series import Places, Series
from sandlab.lab.showing import clock_text, marked
from sandlab.lab.sources import read
from sandlab.lab.timeline import events
from sandlab.quantities import format_number

LOOKED_AT = 500
# An event is the cause of an odd test that follows within so many intervals.
CAUSE_INTERVALS = 2.0


def propose(
    lab: Lab,
    property: str,
    *,
    window_from: datetime | None = None,
    window_to: datetime | None = None,
) -> ProposalFacts:
    """A window for new limits with the tests that would leave it; the latest quiet one when none is given.

    Raises InputError for an unknown name and for a window with too few tests.
    """
    asked = window_from is not None or window_to is not None
    series = read(lab, property, since=window_from, until=window_to, last=None if asked else LOOKED_AT)
    if not asked:
        found = charts.quiet_window(series.values)
        slots = np.arange(found.first, found.last + 1)
        enough, reason = found.enough, found.reason
    else:
        slots = np.arange(series.values.size)
        enough = series.count >= charts.MINIMUM_BASELINE
        reason = "1 test" if series.count == 1 else f"{series.count} tests"
    crossed = _crossed_out(lab, series, slots)
    gone = np.array([slot in crossed for slot in slots.tolist()], dtype=bool)
    phase = charts.propose_exclusions(
        np.where(gone, np.nan, series.values[slots]),
        causes={place: one for place, one in _causes(lab, series, slots).items() if not gone[place]},
        decimals=series.decimals,
        unit=series.unit,
    )
    rows = [int(place) for place in series.places[slots] if place >= 0]
    first, last = series.points[rows[0]].at, series.points[rows[-1]].at
    assert first is not None
    assert last is not None
    exclusions = (*crossed.values(), *(_exclusion(series, slots, one) for one in _named(phase)))
    return ProposalFacts(
        property=property,
        label=series.label,
        window_from=first,
        window_to=last,
        count=phase.count,
        enough=enough,
        acceptable=phase.acceptable,
        exclusions=exclusions,
        words=_words(lab, series, reason, phase, exclusions, (first, last)),
    )


def _crossed_out(lab: Lab, series: Series, slots: Places) -> dict[int, ExclusionFacts]:
    """The tests that somebody left out of limits already, by their slot."""
    marked = left_out(series.points)
    if not marked:
        return {}
    known = series.values[slots]
    spread = float(np.nanstd(known)) or 1.0
    found: dict[int, ExclusionFacts] = {}
    for slot in slots.tolist():
        row = int(series.places[slot])
        if row < 0 or series.points[row].sample not in marked:
            continue
        point = series.points[row]
        shown = format_number(point.value, series.decimals, mark=lab.mark)
        found[slot] = ExclusionFacts(
            sample=point.sample,
            at=point.at,
            value=point.value,
            distance=(point.value - float(np.nanmean(known))) / spread,
            reason=f"{shown} {series.unit} is left out of limits".replace("  ", " "),
            cause=marked[point.sample],
            leaves=True,
        )
    return found


def leaving(proposal: ProposalFacts) -> dict[str, str]:
    """The samples that leave, each with the reason that is kept beside the baseline."""
    return {one.sample: f"{one.reason} ({one.cause})" for one in proposal.exclusions if one.leaves}


def _named(phase: charts.PhaseOne) -> list[charts.Exclusion]:
    """Each test that some pass found outside, as its last pass saw it."""
    found = {one.place: one for each in phase.passes for one in each.proposals}
    return [found[place] for place in sorted(found)]


def _causes(lab: Lab, series: Series, slots: Places) -> dict[int, str]:
    """The event that came shortly before a test, per place of the window."""
    if not series.count:
        return {}
    reach = timedelta(minutes=CAUSE_INTERVALS * (series.every_min or 60.0))
    start = series.points[0].at
    known = [one for one in events(lab, start) if one.kind != "handover"]
    causes: dict[int, str] = {}
    for place, slot in enumerate(slots.tolist()):
        row = int(series.places[slot])
        at = series.points[row].at if row >= 0 else None
        near = [one for one in known if at is not None and timedelta(0) <= at - one.at <= reach]
        if near:
            causes[place] = _cause(near[-1])
    return causes


def _cause(event: EventFacts) -> str:
    return f"{event.text}, noted by {event.by}"


def _exclusion(series: Series, slots: Places, found: charts.Exclusion) -> ExclusionFacts:
    point = series.points[int(series.places[slots[found.place]])]
    return ExclusionFacts(
        sample=point.sample,
        at=point.at,
        value=found.value,
        distance=found.distance,
        reason=marked(found.reason, series.mark),
        cause=found.cause,
        leaves=found.leaves,
    )


def _words(
    lab: Lab,
    series: Series,
    reason: str,
    phase: charts.PhaseOne,
    exclusions: tuple[ExclusionFacts, ...],
    span: tuple[datetime, datetime],
) -> str:
    first, last = (clock_text(one, lab.zone) for one in span)
    said = [f"{series.label}, {first} to {last}: {marked(f'{reason}. {phase.sentence}', lab.mark)}"]
    for one in exclusions:
        when = clock_text(one.at, lab.zone) if one.at else ""
        fate = f"leaves: {one.cause}" if one.leaves else "stays: no cause is noted"
        said.append(f"{when}  {one.reason}; {fate}.")
    return "\n".join(said)
