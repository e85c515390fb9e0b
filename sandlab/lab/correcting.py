"""Correcting and voiding what was saved: new records that name the old ones, with who, when and why."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from sandlab.errors import InputError, Problem, impossible, nearest
from sandlab.lab.deriving import derived
from sandlab.lab.entry import Entry, confirmed_results, result_of
from sandlab.lab.facts import SampleFacts, SavedFacts
from sandlab.lab.opening import Lab
from sandlab.lab.rounds import require_sample, sample_facts
from sandlab.records import Amendment, Comment, Result, Sample


def correct(
    lab: Lab,
    *,
    sample: str,
    property: str,
    text: str,
    by: str,
    reason: str,
    confirmed: Collection[str] = (),
    seen: int | None = None,
) -> SavedFacts:
    """Give a property of an earlier sample another value, or a late one; raises InputError.

    The value saved before stays in the store. Results derived from it are derived again. `seen` is the
    revision that the person had before their eyes; when somebody else has corrected it since, RecordRefused
    says so.
    """
    stored = require_sample(lab, sample)
    if not text.strip():
        raise impossible(property, "no value", "type the right value, or void the result")
    result = result_of(lab, Entry(property, text))
    (result,) = confirmed_results(lab, [result], confirmed, now=lab.now(), by=by)
    return _amend(lab, stored, result, by, reason, seen)


def void(
    lab: Lab, *, sample: str, property: str, by: str, reason: str, seen: int | None = None
) -> SavedFacts:
    """Take a result back: a revision without a value, with its reason; raises InputError."""
    stored = require_sample(lab, sample)
    if not any(one.property == property and one.value is not None for one in stored.results):
        raise impossible(property, "has no value in that sample", "choose a result from the sheet")
    return _amend(lab, stored, Result(property=property, value=None), by, reason, seen)


def remark(lab: Lab, *, sample: str, text: str, by: str, property: str = "") -> SampleFacts:
    """Put a remark on a sample or on one property of it; no value is changed. Raises InputError."""
    stored = require_sample(lab, sample)
    problems = []
    if not text.strip():
        problems.append(Problem("remark", "is empty", "say what is to be known"))
    if not by.strip():
        problems.append(Problem("technician", "no initials", "type your initials first"))
    if property and property not in lab.specs.properties:
        do = nearest(property, list(lab.specs.properties))
        problems.append(Problem(property, "is not a property of the catalogue", do))
    if problems:
        raise InputError(problems)
    now = lab.now()
    comment = Comment(
        id=lab.new_id(),
        system=lab.system,
        at=now,
        by=by.strip(),
        recorded_at=now,
        sample=stored.id,
        property=property,
        text=text.strip()[:500],
    )
    lab.store.save([comment])
    return sample_facts(lab, stored)


def _amend(lab: Lab, stored: Sample, result: Result, by: str, reason: str, seen: int | None) -> SavedFacts:
    from sandlab.lab.consequences import saved_facts

    known = lab.store.revisions(stored.id, result.property).height
    if known and not reason.strip():
        raise impossible("reason", "is empty", "say why the value is corrected")
    if not by.strip():
        raise impossible("technician", "no initials", "type your initials first")
    amendments = [amendment(lab, stored, result, by, reason, known if seen is None else seen + 1)]
    for one in _derived_changes(lab, stored, result):
        number = lab.store.revisions(stored.id, one.property).height
        amendments.append(amendment(lab, stored, one, by, reason, number))
    lab.store.save(amendments, specs_texts={lab.specs.hash: lab.specs.canonical_text})
    return saved_facts(lab, require_sample(lab, stored.id))


def _derived_changes(lab: Lab, stored: Sample, changed: Result) -> Iterator[Result]:
    """Derived results that differ once `changed` holds, voids included."""
    before = {one.property: one for one in stored.results if one.property != changed.property}
    automatic = {key for key, method in lab.specs.methods.items() if method.derived_from}
    measured: Sequence[Result] = [one for one in before.values() if one.method not in automatic]
    after = {one.property: one for one in derived(lab.specs, [*measured, changed])}
    for key, one in after.items():
        if key not in before or before[key].value != one.value:
            yield one
    for key, one in before.items():
        if one.method in automatic and one.value is not None and key not in after:
            yield Result(property=key, value=None)


def amendment(lab: Lab, stored: Sample, result: Result, by: str, reason: str, revision: int) -> Amendment:
    """A stored sample's result as its next revision, with who says so and why."""
    return Amendment(
        id=lab.new_id(),
        system=stored.system,
        at=stored.at,
        by=by.strip(),
        recorded_at=lab.now(),
        reason=reason.strip(),
        sample=stored.id,
        point=stored.point,
        revision=revision,
        specs_hash=lab.specs.hash,
        result=result,
    )
