"""Recommendations: computed by the balance that learns the plant, saved, and released by a technician."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

from sandlab import balance
from sandlab.balance.stream import Estimated
from sandlab.errors import InputError, Problem, impossible
from sandlab.lab.accepting import accepted
from sandlab.lab.additions import addition_facts, kg_decimals
from sandlab.lab.assuming import unplanned_words
from sandlab.lab.conditions import newest_release
from sandlab.lab.facts import AdditionFacts, AdviceFacts, EvidenceFacts, ExpectedFacts, MullerFacts
from sandlab.lab.learning import WINDOW, Told, outlook, told, window_start
from sandlab.lab.muller import acknowledge, muller, override
from sandlab.lab.opening import Lab
from sandlab.lab.showing import (
    age_words,
    clock_text,
    display_decimals,
    display_unit,
    sentence,
    shown_unit,
    text_of,
    width_to_display,
    with_unit,
)
from sandlab.labels import inside
from sandlab.quantities import format_number
from sandlab.records import Recommendation, Release
from sandlab.store.rows import microseconds

__all__ = ["acknowledge", "advise", "latest_advice", "muller", "override", "release"]

BAND = 1.645  # standard deviations to either side of a 90 % band


def advise(lab: Lab, *, by: str) -> AdviceFacts:
    """Compute additions for the next batches and save them as a recommendation; nothing is released.

    When nothing can be computed InputError says why, and what stays in force.
    """
    facts = preview(lab)
    now = facts.at
    recommendation = Recommendation(
        id=facts.recommendation,
        system=lab.system,
        at=now,
        by=by,
        recorded_at=now,
        specs_hash=lab.specs.hash,
        added_kg={one.feeder: one.kg for one in facts.additions},
        hold=facts.hold,
        sentence=facts.brief,
        detail=facts.model_dump_json(),
    )
    lab.store.save([recommendation], specs_texts={lab.specs.hash: lab.specs.canonical_text})
    return facts


def preview(lab: Lab, progress: Callable[[float], None] = lambda share: None) -> AdviceFacts:
    """Additions as they would be computed now, without saving them; raises InputError as `advise` does."""
    now = lab.now()
    since = window_start(now, WINDOW)
    try:
        known = told(lab, since, now, progress)
        progress(1.0)
        answer = known.recommender.advise(microseconds(now), outlook(lab, now))
        unplanned = unplanned_words(lab, known.recommender.log, now)
    except InputError as error:
        raise InputError([*error.problems, _in_force(lab, now)]) from error
    known = replace(known, doubts=(*unplanned, *known.doubts))
    return _facts(lab, lab.new_id(), now, answer, known, since)


def change_words(lab: Lab, progress: Callable[[float], None] = lambda share: None) -> str:
    """What the latest tests change in the additions, in one sentence; empty when nothing can be computed.

    What `progress` raises ends the work.
    """
    try:
        facts = preview(lab, progress)
    except InputError:
        return ""
    moved = [
        f"{inside(one.label.partition(',')[0])} {one.change_text} to {one.text} kg"
        for one in facts.additions
        if one.change_kg
    ]
    words = f"Additions would change: {', '.join(moved)}." if moved else "The additions in force still fit."
    if not facts.hold:
        return words
    held = sentence(facts.reasons[0]) if facts.reasons else "Some are held until a test is repeated."
    return f"{words} {held}" if moved else held


def _in_force(lab: Lab, now: datetime) -> Problem:
    """What the muller runs on while nothing new can be computed."""
    release = newest_release(lab)
    if release is None:
        return Problem("additions", "none were released before", "keep the present settings")
    age = age_words((now - release.at) / timedelta(minutes=1))
    when = clock_text(release.at, lab.zone, now)
    what = f"the recommendation released at {when} by {release.by} stays in force; it is {age} old"
    return Problem("additions", what, "put the above right, then compute again")


def latest_advice(lab: Lab) -> AdviceFacts | None:
    """The last recommendation as it was computed, and whether it has been released."""
    found = lab.store.records(Recommendation, lab.system, last=1)
    if not found:
        return None
    facts = AdviceFacts.model_validate_json(found[-1].detail)
    return facts.model_copy(update={"released": _released(lab, found[-1]) is not None})


def release(lab: Lab, *, recommendation: str, by: str) -> MullerFacts:
    """Let the muller see a recommendation; raises InputError when it is unknown, old news or released."""
    if not by.strip():
        raise impossible("technician", "no initials", "type your initials first")
    stored = lab.store.record(Recommendation, recommendation)
    if stored is None:
        raise impossible("recommendation", f"'{recommendation}' is not known", "compute the additions again")
    newest = lab.store.records(Recommendation, lab.system, last=1)[-1]
    if newest.id != stored.id:
        raise impossible("recommendation", "a newer one exists", "look at the newer one and release that")
    now = lab.now()
    before = _released(lab, stored)
    if before is not None:
        what = f"was released at {clock_text(before.at, lab.zone, now)} by {before.by} already"
        raise impossible("recommendation", what, "compute the additions again if something has changed")
    lab.store.save(
        [
            Release(
                id=lab.new_id(),
                system=lab.system,
                at=now,
                by=by.strip(),
                recorded_at=now,
                recommendation=stored.id,
                added_kg=stored.added_kg,
            )
        ]
    )
    return muller(lab)


def _released(lab: Lab, one: Recommendation) -> Release | None:
    """Who released a recommendation and when, if anybody has."""
    later = lab.store.records(Release, lab.system, since=one.at)
    return next((release for release in later if release.recommendation == one.id), None)


def _facts(
    lab: Lab,
    recommendation: str,
    now: datetime,
    answer: balance.Recommendation,
    known: Told,
    since: datetime,
) -> AdviceFacts:
    reasons = [*answer.flags, *known.doubts]
    reasons += [_miss_words(lab, miss) for miss in answer.misses]
    if answer.hold:
        reasons.insert(0, answer.hold_reason)
    if answer.void_if:
        reasons.append(f"compute again on: {'; '.join(answer.void_if)}")
    return AdviceFacts(
        recommendation=recommendation,
        at=now,
        hold=answer.hold,
        sentence=answer.reason,
        brief=answer.brief,
        reasons=tuple(reasons),
        additions=tuple(_addition(lab, one, answer) for one in answer.additions),
        evidence=tuple(_evidence(lab, one, now) for one in answer.rests_on),
        expected=tuple(_expected(lab, answer)),
        basis=_basis(lab, since),
        released=False,
        advice_note=answer.caution,
    )


def _basis(lab: Lab, since: datetime) -> str:
    """From when on the records were read, and with which plant values that began."""
    values = accepted(lab)
    start = "the start values of the specs"
    if values is not None:
        when = f"{values.at.astimezone(lab.zone):%d %b %Y}"
        start = f"the plant values accepted on {when} by {values.by}"
    return f"records since {since.astimezone(lab.zone):%d %b %H:%M}, {start}"


def _expected(lab: Lab, answer: balance.Recommendation) -> list[ExpectedFacts]:
    """The batch of these additions, property by property."""
    found: dict[str, Estimated | None] = {
        "compactability": answer.compactability,
        "moisture": answer.moisture,
        **answer.prepared,
    }
    return [
        ExpectedFacts(
            property=key,
            label=lab.specs.properties[key].label,
            text=text_of(lab.specs, key, one.value),
            band_text=_width_text(lab, key, BAND * one.sd),
            unit=shown_unit(display_unit(lab.specs, key)),
        )
        for key, one in found.items()
        if one is not None and key in lab.specs.properties
    ]


def _width_text(lab: Lab, key: str, width: float) -> str:
    decimals = display_decimals(lab.specs.properties[key], display_unit(lab.specs, key))
    return format_number(width_to_display(lab.specs, key, width), decimals + 1, mark=lab.mark)


def _miss_words(lab: Lab, miss: balance.Miss) -> str:
    label = lab.specs.properties[miss.property].label
    expected, target = (with_unit(lab.specs, miss.property, value) for value in (miss.expected, miss.target))
    return f"{label} will be {expected} instead of {target}: {miss.because}"


def _addition(lab: Lab, one: balance.Addition, answer: balance.Recommendation) -> AdditionFacts:
    shown = addition_facts(lab, one.feeder, one.kg, one.change_kg)
    sd = answer.sd_kg.get(one.feeder)
    band = None if sd is None else BAND * sd
    decimals = max(1, kg_decimals(lab.sand.feeders[one.feeder].resolution_kg))
    return shown.model_copy(
        update={
            "parts_kg": {part.name: part.kg for part in one.parts},
            "binds": "; ".join(one.binds),
            "band_kg": band,
            "band_text": "" if band is None else format_number(band, decimals, mark=lab.mark),
        }
    )


def _evidence(lab: Lab, one: balance.Evidence, now: datetime) -> EvidenceFacts:
    known = one.property in lab.specs.properties
    count = "1 test" if one.count == 1 else f"{one.count} tests"
    words = "no test: start value" if one.age_min is None else f"{count}, last {age_words(one.age_min)} ago"
    return EvidenceFacts(
        property=one.property,
        label=lab.specs.properties[one.property].label if known else one.property,
        text=text_of(lab.specs, one.property, one.value) if known else f"{one.value:g}",
        unit=shown_unit(display_unit(lab.specs, one.property)) if known else "",
        at=None if one.age_min is None else now - timedelta(minutes=one.age_min),
        age_min=one.age_min,
        words=f"{words}; {one.weak}" if one.weak else words,
    )
