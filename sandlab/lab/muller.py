"""What the muller operator reads and answers: released kg, RUN, CHECK or HOLD, and why."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sandlab import schedule
from sandlab.balance import CAUTION
from sandlab.errors import InputError, Problem, impossible
from sandlab.lab.additions import addition_facts
from sandlab.lab.charting import chart_alarms
from sandlab.lab.conditions import answer_to, confirmed_kg, newest_release, unanswered_before
from sandlab.lab.facts import AdditionFacts, AdviceFacts, MullerFacts, MullerState
from sandlab.lab.fields import last_result
from sandlab.lab.opening import Lab
from sandlab.lab.showing import age_words, clock_text, with_unit
from sandlab.reactions import Triggered, triggered
from sandlab.records import Acknowledgement, Override, Recommendation, Release

WORDS: dict[MullerState, str] = {"run": "RUN", "check": "CHECK", "hold": "HOLD"}


def muller(lab: Lab) -> MullerFacts:
    """The muller screen's facts now."""
    now = lab.now()
    release = newest_release(lab)
    override = answer_to(lab, release, Override) if release else None
    acknowledged = answer_to(lab, release, Acknowledgement) if release else None
    reactions = _reactions(lab)
    last_at, next_words, silent = _tests(lab)
    state, reasons = _state(lab, release, reactions, silent)
    sentence = _sentence(lab, release, state, reasons)
    if release and (unset := unanswered_before(lab, release)):
        when = clock_text(unset.at, lab.zone, now)
        if state != "hold":
            # The advice took that release as set, the changes shown do not: the two may point apart.
            sentence = f"Counted from the release of {when}, never acknowledged: {sentence}"
        words = f"the release of {when} by {unset.by} was never acknowledged"
        words = f"{words}: the change is against what was set before it"
        reasons = (*reasons[:1], words, *reasons[1:])
    if release and not acknowledged and not override:
        reasons = (*reasons, "not acknowledged yet: set the feeders and acknowledge")
    return MullerFacts(
        now=now,
        system=lab.system,
        state=state,
        word=WORDS[state],
        sentence=sentence,
        reasons=reasons,
        call=_call(lab, reactions) if state == "hold" else "",
        release=release.id if release else None,
        released_at=release.at if release else None,
        released_by=release.by if release else "",
        acknowledged_at=acknowledged.at if acknowledged else None,
        acknowledged_by=acknowledged.by if acknowledged else "",
        overridden_by=override.by if override else "",
        override_reason=override.reason if override else "",
        additions=_additions(lab, release, override),
        last_test_at=last_at,
        next_test_words=next_words,
        advice_note=CAUTION,
    )


def acknowledge(lab: Lab, *, by: str, seen: str | None = None) -> MullerFacts:
    """The operator has set the released additions; raises InputError when nothing is released.

    seen: the release that was read, where one was; a newer one is not answered unread
    """
    release = _require_release(lab, by, seen)
    if answer_to(lab, release, Acknowledgement) is None:
        now = lab.now()
        record = Acknowledgement(
            id=lab.new_id(), system=lab.system, at=now, by=by.strip(), recorded_at=now, release=release.id
        )
        lab.store.save([record])
    return muller(lab)


def override(
    lab: Lab, *, by: str, added_kg: Mapping[str, float], reason: str, seen: str | None = None
) -> MullerFacts:
    """The operator runs other kg than released; feeders not named stay as released. Raises InputError."""
    release = _require_release(lab, by, seen)
    problems = _override_problems(lab, added_kg)
    if not reason.strip():
        problems.append(Problem("reason", "is empty", "say why the feeders are set otherwise"))
    if problems:
        raise InputError(problems)
    now = lab.now()
    record = Override(
        id=lab.new_id(),
        system=lab.system,
        at=now,
        by=by.strip(),
        recorded_at=now,
        reason=reason.strip(),
        release=release.id,
        added_kg={**release.added_kg, **added_kg},
    )
    lab.store.save([record])
    return muller(lab)


def _require_release(lab: Lab, by: str, seen: str | None) -> Release:
    if not by.strip():
        raise impossible("operator", "no initials", "type your initials first")
    release = newest_release(lab)
    if release is None:
        raise impossible(
            "release", "nothing has been released yet", "ask the technician to release additions"
        )
    if seen is not None and release.id != seen:
        when = clock_text(release.at, lab.zone, lab.now())
        what = f"new additions were released at {when} by {release.by}"
        raise impossible("release", what, "nothing was saved: read them first, then answer")
    return release


def _override_problems(lab: Lab, added_kg: Mapping[str, float]) -> list[Problem]:
    problems = []
    for name, kg in added_kg.items():
        feeder = lab.sand.feeders.get(name)
        if feeder is None:
            problems.append(Problem(name, "is not a feeder", f"feeders: {', '.join(lab.sand.feeders)}"))
        elif not feeder.minimum_kg <= kg <= feeder.maximum_kg:
            hint = f"it feeds {feeder.minimum_kg:g} to {feeder.maximum_kg:g} kg"
            problems.append(
                Problem(lab.specs.materials[feeder.material].label, f"{kg:g} kg is impossible", hint)
            )
    return problems


def _reactions(lab: Lab) -> tuple[Triggered, ...]:
    """Reactions due for the newest result of each property that has reaction limits."""
    newest = {}
    for key in lab.sand.targets:
        last = last_result(lab, key, schedule.home_point(lab.sand, key))
        if last is not None:
            newest[key] = last[0]
    return triggered(lab.specs.reactions, lab.sand.targets, newest=newest, alarms={})


def _tests(lab: Lab) -> tuple[datetime | None, str, str]:
    """When the most frequent set was last sampled, when it is next due, and a warning when it is overdue."""
    if not lab.sand.schedule:
        return None, "", ""
    now = lab.now()
    test_set = min(lab.sand.schedule.values(), key=schedule.interval_min)
    taken = [last_result(lab, key, test_set.point) for key in test_set.properties]
    last_at = max((one[1] for one in taken if one is not None), default=None)
    # One property left out is the technician's business; the operator needs to know whether tests stopped.
    last_taken = dict.fromkeys(test_set.properties, last_at)
    found = schedule.due(test_set, zone=lab.zone, now=now, last_taken=last_taken)
    due_text = clock_text(found.due_at, lab.zone, now)
    if found.state == "done":
        return last_at, f"next test {due_text}", ""
    if found.minutes_late < 0:
        return last_at, f"next test due {due_text}", ""
    if found.state == "due":
        return last_at, f"test due since {due_text}", ""
    since = f", last test {clock_text(last_at, lab.zone, now)}" if last_at else ""
    missed = f", {found.missed} missed before" if found.missed else ""
    late = f"{age_words(found.minutes_late)} late"
    return last_at, f"test {late}", f"{test_set.label} {late}{missed}{since}: the sand may have moved"


def _state(
    lab: Lab, release: Release | None, reactions: tuple[Triggered, ...], silent: str
) -> tuple[MullerState, tuple[str, ...]]:
    """The gravest state that holds and every reason for it, the gravest first."""
    holds = tuple(_past_words(lab, one) for one in reactions if one.hold)
    checks = [silent] if silent else []
    if release is None:
        checks.append("no additions released yet: keep the present settings and ask the technician")
    checks += _advice_held(lab, release)
    hourly = [
        key for test_set in lab.sand.schedule.values() if test_set.every_min for key in test_set.properties
    ]
    for key, (_, reason) in chart_alarms(lab, hourly).items():
        checks.append(f"{lab.specs.properties[key].label}: {reason}")
    if holds:
        return "hold", (*holds, *checks)
    return ("check", tuple(checks)) if checks else ("run", ())


def _advice_held(lab: Lab, release: Release | None) -> list[str]:
    stored = lab.store.record(Recommendation, release.recommendation) if release else None
    if stored is None or not stored.hold:
        return []
    reasons = AdviceFacts.model_validate_json(stored.detail).reasons
    return [reasons[0] if reasons else "some settings are held until a test is repeated"]


def _past_words(lab: Lab, one: Triggered) -> str:
    side = "below" if one.signal.endswith("low") else "above"
    label = lab.specs.properties[one.property].label
    value = with_unit(lab.specs, one.property, one.value, apart_from=one.limit)
    limit = with_unit(lab.specs, one.property, one.limit)
    return f"{label} {value} is {side} the reaction limit {limit}. {one.steps[0]}"


def _call(lab: Lab, reactions: tuple[Triggered, ...]) -> str:
    """Whom to call: the plan's contact, else the plant's first."""
    contacts = lab.specs.plant.contacts
    named = [one.call for one in reactions if one.hold and one.call in contacts] or list(contacts)
    if not named:
        return "the sand laboratory"
    contact = contacts[named[0]]
    return f"{contact.label} {contact.phone}".strip()


def _sentence(lab: Lab, release: Release | None, state: MullerState, reasons: tuple[str, ...]) -> str:
    """The one sentence under the kilograms."""
    if state == "hold":
        return reasons[0]
    if release is None:
        return "No additions have been released."
    stored = lab.store.record(Recommendation, release.recommendation)
    return stored.sentence if stored else ""


def _additions(lab: Lab, release: Release | None, override: Override | None) -> tuple[AdditionFacts, ...]:
    """Kilograms in force with the change against what the operator had set before this release."""
    if release is None:
        return ()
    kg = {**release.added_kg, **(override.added_kg if override else {})}
    before = confirmed_kg(lab, release)
    return tuple(
        addition_facts(lab, name, kg[name], kg[name] - before.get(name, kg[name]))
        for name in lab.sand.feeders
        if name in kg
    )
