"""Tests left out of limits: the value stays as it was measured, and carries who left it out and why."""

from __future__ import annotations

from collections.abc import Iterable

from sandlab.errors import InputError, Problem, impossible
from sandlab.lab.correcting import amendment
from sandlab.lab.facts import PointFacts
from sandlab.lab.opening import Lab
from sandlab.lab.rounds import require_sample
from sandlab.lab.showing import to_display
from sandlab.records import Result, Sample

LEFT_OUT = "left out of limits"


def leave_out(lab: Lab, property: str, *, sample: str, by: str, reason: str) -> PointFacts:
    """Leave one test out of every baseline frozen from now on; it is still drawn and still signals.

    Limits in force stay as they are until somebody freezes new ones. Raises InputError.
    """
    stored, result = _found(lab, property, sample, by, reason)
    if reason_of(result.flags):
        raise impossible(property, "is left out already", "take it in again first, or freeze without it")
    flag = f"{LEFT_OUT} by {by.strip()}: {reason.strip()}"
    return _save(lab, stored, result, (*result.flags, flag), by, reason)


def take_in(lab: Lab, property: str, *, sample: str, by: str, reason: str) -> PointFacts:
    """Let a test that was left out count again, with who and why; raises InputError."""
    stored, result = _found(lab, property, sample, by, reason)
    kept = tuple(flag for flag in result.flags if not flag.startswith(LEFT_OUT))
    if kept == result.flags:
        raise impossible(property, "is not left out of that sample", "choose a test that is crossed out")
    return _save(lab, stored, result, kept, by, reason)


def reason_of(flags: Iterable[str]) -> str:
    """By whom and why a test is left out, from its flags; empty when it counts."""
    return next((flag.removeprefix(f"{LEFT_OUT} ") for flag in flags if flag.startswith(LEFT_OUT)), "")


def left_out(points: Iterable[PointFacts]) -> dict[str, str]:
    """The samples among these points that are left out, with by whom and why."""
    return {one.sample: reason for one in points if (reason := reason_of(one.flags))}


def _found(lab: Lab, property: str, sample: str, by: str, reason: str) -> tuple[Sample, Result]:
    problems = [
        Problem(name, "is empty", f"say {name}")
        for name, text in (("who", by), ("why", reason))
        if not text.strip()
    ]
    if problems:
        raise InputError(problems)
    if property not in lab.specs.properties:
        raise impossible(property, "is not a test", "only a test of the catalogue can be left out")
    stored = require_sample(lab, sample)
    found = [one for one in stored.results if one.property == property and one.value is not None]
    if not found:
        raise impossible(property, "has no value in that sample", "choose a test of the chart")
    return stored, found[0]


def _save(
    lab: Lab, stored: Sample, result: Result, flags: tuple[str, ...], by: str, reason: str
) -> PointFacts:
    """The same value with other flags, as the next revision."""
    revision = lab.store.revisions(stored.id, result.property).height
    changed = result.model_copy(update={"flags": flags, "revision": 0})
    record = amendment(lab, stored, changed, by, reason, revision)
    lab.store.save([record], specs_texts={lab.specs.hash: lab.specs.canonical_text})
    return PointFacts(
        at=stored.at,
        value=to_display(lab.specs, result.property, result.value or 0.0),
        sample=stored.id,
        by=stored.by,
        corrected=True,
        flags=flags,
    )
