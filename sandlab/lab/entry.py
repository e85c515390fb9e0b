"""Logging a test and correcting one: typed texts in, saved records and their consequences out."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sandlab.errors import InputError, NeedsConfirmation, Problem, impossible, nearest
from sandlab.lab.deriving import derived, result_from_readings
from sandlab.lab.facts import FieldFacts, JudgementFacts, SavedFacts
from sandlab.lab.judging import judge_value, stored_state
from sandlab.lab.opening import Lab
from sandlab.lab.showing import age_words, clock_text, text_of, to_display, to_stored
from sandlab.quantities import parse_number
from sandlab.records import Result, Sample
from sandlab.specs import Method

CLOCK_SLACK = timedelta(minutes=2)
CLOCK = "clock"
LONG_AGO = timedelta(hours=24)
TAKEN_AT = "taken_at"


@dataclass(frozen=True, slots=True)
class Entry:
    """One field as typed: a value, or a method with its readings, one tuple of texts per repeat."""

    property: str
    text: str = ""
    method: str = ""
    readings: tuple[tuple[str, ...], ...] = ()


def is_blank(entry: Entry) -> bool:
    """Whether nothing was typed: not measured."""
    return not entry.text.strip() and not any(text.strip() for one in entry.readings for text in one)


def compute(lab: Lab, field: FieldFacts, entry: Entry) -> JudgementFacts:
    """The result of the readings typed so far, judged like a typed value; raises InputError."""
    result = result_of(lab, entry)
    shown = to_display(lab.specs, field.property, result.value or 0.0)
    judgement = judge_value(field, shown, mark=lab.mark)
    words = "; ".join((judgement.words, *result.flags))
    return judgement.model_copy(update={"words": words})


def record_sample(
    lab: Lab,
    *,
    point: str,
    by: str,
    entries: Sequence[Entry],
    taken_at: datetime | None = None,
    note: str = "",
    confirmed: Collection[str] = (),
    sample_id: str = "",
) -> SavedFacts:
    """Save a sample with its results; returns when it is on disk.

    `sample_id` is the id under which it was kept half typed, so that it is saved once at most.
    Raises InputError with every impossible field at once, or NeedsConfirmation naming the doubtful ones that
    are not in `confirmed`; nothing is saved then.
    """
    from sandlab.lab.consequences import saved_facts

    now = lab.now()
    at = taken_at or now
    results, problems = _results(lab, entries)
    problems.extend(_general_problems(lab, point, by, at, now))
    if all(is_blank(one) for one in entries):
        problems.append(Problem("sample", "nothing was measured", "type at least one value"))
    if problems:
        raise InputError(problems)
    results = confirmed_results(lab, results, confirmed, now=now, by=by, taken_at=at)
    sample = Sample(
        id=sample_id or lab.new_id(),
        system=lab.system,
        at=at,
        by=by.strip(),
        recorded_at=now,
        point=point,
        specs_hash=lab.specs.hash,
        note=note,
        results=(*results, *derived(lab.specs, results)),
    )
    lab.store.save([sample], specs_texts={lab.specs.hash: lab.specs.canonical_text})
    return saved_facts(lab, sample)


def _results(lab: Lab, entries: Sequence[Entry]) -> tuple[list[Result], list[Problem]]:
    results: list[Result] = []
    problems: list[Problem] = []
    for entry in entries:
        if is_blank(entry):
            continue
        if any(one.property == entry.property for one in results):
            problems.append(Problem(entry.property, "is given twice", "leave one of the two blank"))
            continue
        try:
            results.append(result_of(lab, entry))
        except InputError as error:
            problems.extend(error.problems)
    return results, problems


def result_of(lab: Lab, entry: Entry) -> Result:
    """The result of one filled field; raises InputError when it is impossible."""
    names = list(lab.specs.properties)
    if entry.property not in names:
        raise impossible(entry.property, "is not a property of the catalogue", nearest(entry.property, names))
    label = lab.specs.properties[entry.property].label
    if entry.method:
        result = result_from_readings(lab.specs, entry.method, _readings(lab, entry))
    else:
        typed = parse_number(entry.text, where=label)
        value = to_stored(lab.specs, entry.property, typed.value)
        result = Result(property=entry.property, value=value, censored=typed.censored)
    if stored_state(lab, entry.property, result.value or 0.0) == "impossible":
        low, high = (
            text_of(lab.specs, entry.property, end) for end in lab.specs.properties[entry.property].impossible
        )
        shown = text_of(lab.specs, entry.property, result.value)
        raise impossible(
            label, f"{shown} is impossible", f"only {low} to {high} can be measured: check the entry"
        )
    return result


def _readings(lab: Lab, entry: Entry) -> list[dict[str, float]]:
    """The typed readings as numbers, one mapping per repeat that was filled in."""
    method = lab.specs.methods.get(entry.method)
    if method is None or method.property != entry.property:
        valid = [key for key, one in lab.specs.methods.items() if one.property == entry.property]
        raise impossible(
            entry.property, f"'{entry.method}' is not a method for it", nearest(entry.method, valid)
        )
    problems: list[Problem] = []
    repeats = []
    for place, texts in enumerate(entry.readings, start=1):
        if any(text.strip() for text in texts):
            repeats.append(_one_repeat(method, place, texts, problems))
    if problems:
        raise InputError(problems)
    return repeats


def _one_repeat(
    method: Method, place: int, texts: Sequence[str], problems: list[Problem]
) -> dict[str, float]:
    """The numbers of one repeat; what is wrong is added to `problems`."""
    found: dict[str, float] = {}
    if len(texts) != len(method.readings):
        what = f"{len(texts)} readings in repeat {place}"
        problems.append(Problem(method.label, what, f"it takes {', '.join(method.readings)}"))
        return found
    for (name, spec), text in zip(method.readings.items(), texts, strict=True):
        where = f"{method.label}, {spec.label}, repeat {place}"
        try:
            value = parse_number(text, where=where).value
        except InputError as error:
            problems.extend(error.problems)
            continue
        if not spec.low <= value <= spec.high:
            hint = f"only {spec.low:g} to {spec.high:g} {spec.unit} can be read"
            problems.append(Problem(where, f"{text.strip()} is impossible", hint))
        found[name] = value
    return found


def _general_problems(lab: Lab, point: str, by: str, at: datetime, now: datetime) -> list[Problem]:
    problems = []
    if point not in lab.sand.points:
        hint = nearest(point, list(lab.sand.points))
        problems.append(Problem("point", f"'{point}' is not a sampling point", hint))
    if not by.strip():
        problems.append(Problem("technician", "no initials", "type your initials first"))
    if at > now + CLOCK_SLACK:
        when = clock_text(at, lab.zone, now)
        do = "correct the time or the clock; for another day write 2026-03-04 14:05"
        problems.append(Problem("Taken at", f"{when} is in the future", do))
    return problems


def confirmed_results(
    lab: Lab,
    results: Sequence[Result],
    confirmed: Collection[str],
    *,
    now: datetime,
    by: str,
    taken_at: datetime | None = None,
) -> list[Result]:
    """The results with confirmed doubts written into their flags; raises NeedsConfirmation for the others."""
    asked: list[Problem] = []
    names: list[str] = []
    flagged = []
    for one in results:
        entry = lab.specs.properties[one.property]
        if stored_state(lab, one.property, one.value or 0.0) != "doubtful":
            flagged.append(one)
            continue
        shown = text_of(lab.specs, one.property, one.value, censored=one.censored)
        if one.property not in confirmed:
            low, high = (text_of(lab.specs, one.property, end) for end in entry.doubtful)
            asked.append(
                Problem(entry.label, f"{shown} is unusual ({low} to {high})", "repeat it, or confirm")
            )
            names.append(one.property)
        doubt = f"doubtful value {shown}, confirmed by {by.strip()}"
        flagged.append(one.model_copy(update={"flags": (*one.flags, doubt)}))
    if taken_at is not None and now - taken_at > LONG_AGO and TAKEN_AT not in confirmed:
        age = age_words((now - taken_at) / timedelta(minutes=1))
        what = f"{clock_text(taken_at, lab.zone, now)} is {age} ago"
        asked.append(Problem("Taken at", what, "correct the day, or confirm"))
        names.append(TAKEN_AT)
    behind = lab.store.latest_recorded_at(lab.system)
    if behind is not None and behind > now + CLOCK_SLACK and CLOCK not in confirmed:
        when = clock_text(behind, lab.zone, now)
        asked.append(
            Problem(CLOCK, f"records exist up to {when}, later than this clock", "set the clock, or confirm")
        )
        names.append(CLOCK)
    if asked:
        raise NeedsConfirmation(asked, names)
    return flagged
