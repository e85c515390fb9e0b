"""What is due, and the sheet of what was measured."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from sandlab import schedule
from sandlab.errors import impossible
from sandlab.lab.facts import (
    CommentFacts,
    DueFacts,
    DueSetFacts,
    FieldFacts,
    ResultFacts,
    SampleFacts,
    SheetFacts,
)
from sandlab.lab.fields import field, last_result
from sandlab.lab.judging import stored_state
from sandlab.lab.opening import Lab
from sandlab.lab.showing import age_words, clock_text, display_unit, shown_unit, text_of, to_display
from sandlab.lab.specs_then import differing_names, specs_then
from sandlab.labels import inside
from sandlab.records import Amendment, Comment, Result, Sample
from sandlab.specs import Specs, TestSet

_URGENCY = {"overdue": 0, "due": 1, "done": 2}

NAMED = 34
"""So many characters of names stand before the lateness on a line of 80 columns."""


def due(lab: Lab) -> DueFacts:
    """Every test set of the schedule with its state, the most urgent first."""
    now = lab.now()
    sets = [_due_set(lab, key, test_set, now) for key, test_set in lab.sand.schedule.items()]
    return DueFacts(
        plant=lab.specs.plant.name,
        system=lab.system,
        time_zone=lab.specs.plant.time_zone,
        decimal_mark=lab.mark,
        now=now,
        sets=tuple(sorted(sets, key=lambda one: (_URGENCY[one.state], _interval(lab, one)))),
    )


def _interval(lab: Lab, one: DueSetFacts) -> float:
    """The most frequent set comes first among equally urgent ones."""
    return schedule.interval_min(lab.sand.schedule[one.test_set])


def _due_set(lab: Lab, key: str, test_set: TestSet, now: datetime) -> DueSetFacts:
    fields = tuple(field(lab, name, point=test_set.point, now=now) for name in test_set.properties)
    last_taken = {one.property: one.last_at for one in fields}
    found = schedule.due(test_set, zone=lab.zone, now=now, last_taken=last_taken)
    return DueSetFacts(
        test_set=key,
        label=test_set.label,
        point=test_set.point,
        point_label=lab.sand.points[test_set.point].label,
        state=found.state,
        due_at=found.due_at,
        minutes_late=found.minutes_late,
        words=_due_words(lab, test_set, found, now),
        fields=fields,
    )


def _due_words(lab: Lab, test_set: TestSet, found: schedule.Due, now: datetime) -> str:
    at = clock_text(found.due_at, lab.zone, now)
    if found.state == "done":
        return f"{test_set.label}: done, next at {at}"
    whole = len(found.remaining) == len(test_set.properties)
    what = test_set.label if whole else f"{test_set.label}, still {_remaining_words(lab, found.remaining)}"
    if found.minutes_late < 0:
        return f"{what}: due at {at}"
    if found.state == "due":
        return f"{what}: due since {at}"
    missed = f", {found.missed} missed before" if found.missed else ""
    return f"{what}: {age_words(found.minutes_late)} late{missed}"


def _remaining_words(lab: Lab, remaining: Sequence[str]) -> str:
    """What of a set is left to measure; a long list is counted, so that the lateness after it is seen."""
    names = [inside(lab.specs.properties[name].label) for name in remaining]
    words = ", ".join(names)
    return words if len(words) <= NAMED else f"{names[0]} and {len(names) - 1} more"


def any_fields(lab: Lab, point: str) -> tuple[FieldFacts, ...]:
    """Fields of every property that is measured, not derived, for a sample outside the schedule."""
    now = lab.now()
    derived = {method.property for method in lab.specs.methods.values() if method.derived_from}
    measured = {method.property for method in lab.specs.methods.values() if method.readings}
    scheduled = {name for one in lab.sand.schedule.values() for name in one.properties}
    names = [name for name in lab.specs.properties if name not in derived or name in measured | scheduled]
    return tuple(field(lab, name, point=point, now=now) for name in names)


def sheet(lab: Lab, *, last: int = 20, day: date | None = None) -> SheetFacts:
    """The latest samples with their current results, or all of one day at the plant, newest first."""
    words = ""
    if day is None:
        samples = lab.store.samples(lab.system, last=last)
    else:
        start = datetime.combine(day, time(), tzinfo=lab.zone)
        end = datetime.combine(day + timedelta(days=1), time(), tzinfo=lab.zone) - timedelta(microseconds=1)
        samples = lab.store.samples(lab.system, since=start, until=end)
    comments = _comments(lab, samples)
    found = tuple(sample_facts(lab, one, comments.get(one.id, ())) for one in reversed(samples))
    if day is not None:
        words = _day_words(lab, day, found) + _judged_words(lab, samples)
    return SheetFacts(now=lab.now(), samples=found, words=words)


def _comments(lab: Lab, samples: Sequence[Sample]) -> dict[str, tuple[CommentFacts, ...]]:
    """The remarks on some samples; none is older than its sample."""
    found: dict[str, tuple[CommentFacts, ...]] = {}
    if samples:
        for one in lab.store.records(Comment, lab.system, since=min(each.at for each in samples)):
            said = CommentFacts(property=one.property, text=one.text, by=one.by, at=one.at)
            found[one.sample] = (*found.get(one.sample, ()), said)
    return found


def _day_words(lab: Lab, day: date, samples: Sequence[SampleFacts]) -> str:
    """A day in one sentence: how many samples, by whom, and what was not in tolerance."""
    ago = (lab.now().astimezone(lab.zone).date() - day).days
    name = {0: "Today, ", 1: "Yesterday, "}.get(ago, "") + f"{day:%a %d %b %Y}"
    if not samples:
        return f"{name}: no sample."
    states: Counter[str] = Counter(one.state for each in samples for one in each.results)
    wrong = [
        f"{states[state]} {words}"
        for state, words in (
            ("past_reaction_limit", "past a reaction limit"),
            ("doubtful", "doubtful"),
            ("outside_tolerance", "outside tolerance"),
        )
        if states[state]
    ]
    who = ", ".join(sorted({initials(one.by) for one in samples}))
    count = f"{len(samples)} sample{'s' if len(samples) > 1 else ''}"
    return f"{name}: {count} by {who}; {', '.join(wrong) or 'every value in tolerance'}."


def _judged_words(lab: Lab, samples: Sequence[Sample]) -> str:
    """Which of a day's tests were judged by other targets than today's."""
    names = sorted({name for one in samples for name in differing_names(lab, one)})
    return f" Judged by the targets in force then; today others hold for {', '.join(names)}." if names else ""


def initials(name: str) -> str:
    """Initials of a name; what is short already stays."""
    return name if len(name) <= 4 else "".join(part[0] for part in name.replace(".", " ").split())[:4]


def sample(lab: Lab, sample_id: str) -> SampleFacts:
    """One sample; raises InputError when no sample has that id."""
    return sample_facts(lab, require_sample(lab, sample_id))


def require_sample(lab: Lab, sample_id: str) -> Sample:
    """The stored sample of an id, or of the beginning of one among the last 500."""
    found = lab.store.sample(sample_id)
    if found is None and len(sample_id) >= 6:
        near = [one for one in lab.store.samples(lab.system, last=500) if one.id.startswith(sample_id)]
        found = near[0] if len(near) == 1 else None
    if found is None:
        raise impossible("sample", f"no sample '{sample_id}'", "take the id from the sheet")
    return found


def sample_facts(lab: Lab, stored: Sample, comments: tuple[CommentFacts, ...] | None = None) -> SampleFacts:
    """A stored sample as shown, judged by the specs it was taken under."""
    if comments is None:
        comments = _comments(lab, [stored]).get(stored.id, ())
    then = specs_then(lab, stored.specs_hash)
    return SampleFacts(
        sample=stored.id,
        system=stored.system,
        point=stored.point,
        taken_at=stored.at,
        by=stored.by,
        source=stored.source,
        note=stored.note,
        results=tuple(
            result_facts(lab, one, then) for one in stored.results if one.property in lab.specs.properties
        ),
        changes=_changes(lab, stored),
        comments=comments,
    )


def _changes(lab: Lab, stored: Sample) -> dict[str, str]:
    """What was typed before, and who corrected it or took it back and why; derived results are left out."""
    derived = {method.property for method in lab.specs.methods.values() if method.derived_from}
    amended = lab.store.records(Amendment, lab.system, since=stored.at, until=stored.at, revised=True)
    names = {one.result.property for one in amended if one.sample == stored.id and one.revision}
    return {
        key: _history(lab, stored.id, key) for key in sorted((names - derived) & set(lab.specs.properties))
    }


def _history(lab: Lab, sample_id: str, key: str) -> str:
    first, *later = lab.store.revisions(sample_id, key).iter_rows(named=True)
    words = [f"first {text_of(lab.specs, key, first['value'], censored=first['censored'])} by {first['by']}"]
    for one in later:
        value = one["value"]
        what = "void" if value is None else text_of(lab.specs, key, value, censored=one["censored"])
        words.append(f"{what} by {one['by']}: {one['reason']}")
    return "; then ".join(words)


def result_facts(lab: Lab, result: Result, then: Specs) -> ResultFacts:
    """A stored result as shown, judged by the specs of `then`."""
    key = result.property
    value = result.value
    shown = None if value is None else to_display(lab.specs, key, value)
    return ResultFacts(
        property=key,
        label=lab.specs.properties[key].label,
        value=shown,
        text=text_of(lab.specs, key, value, censored=result.censored),
        unit=shown_unit(display_unit(lab.specs, key)),
        state="not_measured" if value is None else stored_state(lab, key, value, then=then),
        method=result.method,
        censored=result.censored,
        revision=result.revision,
        flags=result.flags,
    )


def newest(lab: Lab, keys: tuple[str, ...]) -> dict[str, float]:
    """The newest value of each property at its home point, where there is one."""
    found = {}
    for key in keys:
        last = last_result(lab, key, schedule.home_point(lab.sand, key))
        if last is not None:
            found[key] = last[0]
    return found
