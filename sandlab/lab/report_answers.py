"""Parts of a report about answers: alarms and what was done, reactions, decisions, corrections, notes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sandlab import schedule
from sandlab.lab.facts import ChartFacts, HandoverNoteFacts
from sandlab.lab.facts.report import ReportReactionFacts, ReportSignalFacts, ReportStepFacts
from sandlab.lab.handing import handover
from sandlab.lab.leaving import LEFT_OUT, reason_of
from sandlab.lab.opening import Lab
from sandlab.lab.periods import Period
from sandlab.lab.showing import text_of, with_unit
from sandlab.lab.specs_then import Then
from sandlab.reactions import past_reaction, plan_entry
from sandlab.records import (
    Acknowledgement,
    Amendment,
    Baseline,
    Comment,
    Event,
    Override,
    Recommendation,
    Release,
    StepDone,
)
from sandlab.specs import Specs

LOOK_BACK = timedelta(days=1)
ANSWERED_WITHIN = timedelta(hours=4)
"""What was written down so long after an alarm is told as an answer to it."""
TOGETHER = {"shift": timedelta(hours=12), "month": timedelta(hours=48)}
"""Alarms of one chart no further apart than this are told as one."""


@dataclass(frozen=True, slots=True)
class Written:
    """Something that was written down: when, about which property and sample (empty for all), in words."""

    at: datetime
    property: str
    words: str
    sample: str = ""


def written_down(lab: Lab, period: Period) -> list[Written]:
    """Steps taken, corrections, remarks, releases and notes from the period's start on, in order of time."""
    store, system, since = lab.store, lab.system, period.since
    derived = {method.property for method in lab.specs.methods.values() if method.derived_from}
    found = [
        Written(
            one.at,
            one.property,
            f"{one.step} - {_who(lab, one)}" + (f" ({one.reason})" if one.reason else ""),
        )
        for one in store.records(StepDone, system, since=since)
    ]
    found += [
        Written(one.recorded_at, one.result.property, f"{_changed(lab, one)} by {one.by}: {one.reason}")
        for one in store.records(Amendment, system, since=since, until=period.until, revised=True)
        if one.revision and one.result.property not in derived
    ]
    found += [
        Written(one.at, one.property, f"{' '.join(one.text.split())} - {_who(lab, one)}", one.sample)
        for one in store.records(Comment, system, since=since)
    ]
    found += [
        Written(one.at, "", f"additions released - {_who(lab, one)}")
        for one in store.records(Release, system, since=since)
    ]
    found += [
        Written(one.at, "", f"{one.text} - {_who(lab, one)}")
        for one in store.records(Event, system, since=since)
        if one.kind != "handover"
    ]
    return sorted(found, key=lambda one: one.at)


def _changed(lab: Lab, one: Amendment) -> str:
    """What an amendment did: a test that leaves the limits, or comes back, keeps its value."""
    if one.result.value is None:
        return "taken back"
    before = lab.store.revisions(one.sample, one.result.property)["value"][one.revision - 1]
    if one.result.value != before:
        return "corrected"
    return LEFT_OUT if reason_of(one.result.flags) else "kept as it was"


def _who(lab: Lab, one: StepDone | Comment | Release | Event) -> str:
    return f"{one.by} {one.at.astimezone(lab.zone):%d %b %H:%M}"


def signals_of(
    charts: Mapping[str, ChartFacts], written: Sequence[Written], together: timedelta
) -> tuple[ReportSignalFacts, ...]:
    """The alarms of every chart, those close together as one, each with what was written down afterwards."""
    found = []
    for key, facts in charts.items():
        alarms = [(one.at, one.reason) for one in facts.signals if one.alarm and one.at]
        samples = {"", *(one.sample for one in facts.points)}
        about = [one for one in written if one.property in ("", key) and one.sample in samples]
        for group in _grouped(alarms, together):
            (start, reason), (end, _) = group[0], group[-1]
            found.append(
                ReportSignalFacts(
                    property=key,
                    label=facts.label,
                    at=start,
                    until=end,
                    count=len(group),
                    reason=reason,
                    done=tuple(one.words for one in about if start <= one.at <= end + ANSWERED_WITHIN),
                )
            )
    return tuple(sorted(found, key=lambda one: one.at))


def _grouped(alarms: list[tuple[datetime, str]], together: timedelta) -> Iterator[list[tuple[datetime, str]]]:
    group: list[tuple[datetime, str]] = []
    for one in sorted(alarms):
        if group and one[0] - group[-1][0] > together:
            yield group
            group = []
        group.append(one)
    if group:
        yield group


def reactions_of(lab: Lab, period: Period) -> tuple[ReportReactionFacts, ...]:
    """Every run of values past a reaction limit, with the steps of the plan that were taken or are open.

    A run that began before the period is told whole, as far as a day back. Limits and plan are those that
    each value was taken under.
    """
    back = period.since - LOOK_BACK if period.since else None
    done = lab.store.records(StepDone, lab.system, since=back)
    then = Then(lab, Period(back, period.until))
    found = []
    for key in lab.specs.properties:
        frame = lab.store.results(
            lab.system,
            key,
            since=back,
            until=period.until,
            point=schedule.home_point(lab.sand, key),
        )
        start: tuple[str, datetime, float, str] | None = None
        for sample, at, value in frame.select("sample", "taken_at", "value").iter_rows():
            target = then.target(sample, key)
            signal = past_reaction(value, target) if target else ""
            if start is not None and signal != start[3]:
                found.append(_reaction(lab, key, start, at, done, then.specs(start[0])))
                start = None
            if signal and start is None:
                start = (sample, at, value, signal)
        if start is not None:
            found.append(_reaction(lab, key, start, None, done, then.specs(start[0])))
    lasting = (one for one in found if one.back_at is None or period.holds(one.back_at))
    return tuple(sorted(lasting, key=lambda one: one.at))


def _reaction(
    lab: Lab,
    key: str,
    start: tuple[str, datetime, float, str],
    back_at: datetime | None,
    done: Sequence[StepDone],
    specs: Specs,
) -> ReportReactionFacts:
    sample, at, value, signal = start
    limit = specs.systems[lab.system].targets[key].reaction[0 if signal.endswith("low") else 1]
    taken = {one.step: one for one in done if (one.property, one.signal, one.sample) == (key, signal, sample)}
    _, plan = plan_entry(specs.reactions, key, signal)
    steps = tuple(
        ReportStepFacts(
            step=step,
            done_at=taken[step].at if step in taken else None,
            done_by=taken[step].by if step in taken else "",
            found=taken[step].reason if step in taken else "",
        )
        for step in plan.steps
    )
    side = "below" if signal.endswith("low") else "above"
    label = lab.specs.properties[key].label
    beside = with_unit(lab.specs, key, value, apart_from=limit)
    return ReportReactionFacts(
        property=key,
        label=label,
        at=at,
        what=f"{label} {beside}, {side} the reaction limit {with_unit(lab.specs, key, limit)}",
        back_at=back_at,
        steps=steps,
        open=back_at is None and any(one.done_at is None for one in steps),
    )


def decisions_of(lab: Lab, period: Period) -> tuple[str, ...]:
    """Releases with what the operator answered, and limits that were frozen, in order of time."""
    store, system, since, until = lab.store, lab.system, period.since, period.until
    said: list[tuple[datetime, str]] = []
    for release in store.records(Release, system, since=since, until=until):
        kg = ", ".join(f"{name.replace('_', ' ')} {kg:g}" for name, kg in release.added_kg.items())
        advice = store.record(Recommendation, release.recommendation)
        why = f" {advice.sentence}" if advice is not None else ""
        said.append((release.at, f"{release.by} released {kg} kg per batch.{why}"))
    said += [
        (one.at, f"{one.by} set the released additions.")
        for one in store.records(Acknowledgement, system, since=since, until=until)
    ]
    for one in store.records(Override, system, since=since, until=until):
        kg = ", ".join(f"{name.replace('_', ' ')} {kg:g}" for name, kg in one.added_kg.items())
        said.append((one.at, f"{one.by} ran other additions ({kg} kg): {one.reason}"))
    said += _frozen(lab, period)
    return tuple(f"{at.astimezone(lab.zone):%d %b %H:%M}  {words}" for at, words in sorted(said))


def _frozen(lab: Lab, period: Period) -> Iterator[tuple[datetime, str]]:
    """Limits that were frozen in the period; those of one person for one reason in one sentence."""
    together: dict[tuple[str, str], list[Baseline]] = {}
    for one in lab.store.records(Baseline, lab.system):
        if period.holds(one.recorded_at):
            together.setdefault((one.by, one.reason), []).append(one)
    for (by, reason), frozen in together.items():
        names = ", ".join(dict.fromkeys(one.property.replace("_", " ") for one in frozen))
        yield min(one.recorded_at for one in frozen), f"{by} froze limits of {names}: {reason}"


def corrections_of(lab: Lab, period: Period) -> tuple[str, ...]:
    """Values of the period that were changed or taken back, by whom and why; derived ones are left out."""
    derived = {method.property for method in lab.specs.methods.values() if method.derived_from}
    said = []
    for one in lab.store.records(Amendment, lab.system, since=period.since, until=period.until, revised=True):
        key = one.result.property
        if one.revision == 0 or key in derived or key not in lab.specs.properties:
            continue
        before = text_of(lab.specs, key, lab.store.revisions(one.sample, key)["value"][one.revision - 1])
        changed = _changed(lab, one)
        now = f"-> {text_of(lab.specs, key, one.result.value)}" if changed == "corrected" else changed
        at = f"{one.at.astimezone(lab.zone):%d %b %H:%M}"
        label = lab.specs.properties[key].label
        said.append(f"{at}  {label} {before} {now}, {one.by}: {one.reason}")
    return tuple(said)


def notes_of(lab: Lab, period: Period) -> tuple[HandoverNoteFacts, ...]:
    """Handover notes of the period, oldest first."""
    found = handover(lab, since=period.since, last=100_000).notes
    return tuple(one for one in reversed(found) if period.holds(one.at))
