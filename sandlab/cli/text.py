"""The facts as plain lines: what each screen shows, for a terminal without one."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta, tzinfo

from sandlab.lab.additions import parts_words
from sandlab.lab.facts import (
    AdviceFacts,
    CheckFacts,
    DueFacts,
    MullerFacts,
    ResultFacts,
    SampleFacts,
    SavedFacts,
)
from sandlab.lab.showing import age_words


def moment(at: datetime | None, zone: tzinfo) -> str:
    """A local time with its date."""
    return f"{at.astimezone(zone):%Y-%m-%d %H:%M}" if at else "-"


def due_lines(facts: DueFacts) -> Iterator[str]:
    """What is due, a line per test set."""
    yield f"{facts.plant}, {facts.system}"
    for one in facts.sets:
        yield f"{one.state.upper():8} {one.words}"


def result_line(one: ResultFacts) -> str:
    """One result with its state and flags."""
    flags = f" ({'; '.join(one.flags)})" if one.flags else ""
    return f"  {one.label:28} {one.text:>8} {one.unit:6} {one.state.replace('_', ' ')}{flags}"


def sample_lines(facts: SampleFacts, zone: tzinfo) -> Iterator[str]:
    """One sample with its results."""
    yield f"{moment(facts.taken_at, zone)}  {facts.point}  by {facts.by}  {facts.sample}"
    yield from (result_line(one) for one in facts.results)
    for name, words in facts.changes.items():
        yield f"  {name.replace('_', ' ')}: {words}"
    for one in facts.comments:
        about = f"{one.property.replace('_', ' ')}: " if one.property else ""
        yield f"  remark by {one.by}: {about}{one.text}"


def saved_lines(facts: SavedFacts, zone: tzinfo) -> Iterator[str]:
    """What saving led to."""
    yield from sample_lines(facts.sample, zone)
    yield from facts.consequences
    yield f"Next: {facts.next}"


def additions_lines(facts: MullerFacts, zone: tzinfo) -> Iterator[str]:
    """What the muller operator reads."""
    yield f"{facts.word}  {facts.sentence}"
    if facts.call:
        yield f"Call {facts.call}"
    for one in facts.additions:
        yield f"  {one.label:20} {one.text:>8} kg  {one.change_text:>6} kg"
    if facts.release:
        since = facts.now - facts.released_at if facts.released_at else timedelta(0)
        age = age_words(since / timedelta(minutes=1))
        yield f"Released {moment(facts.released_at, zone)}, {age} ago, by {facts.released_by}"
    if facts.overridden_by:
        yield f"Overridden by {facts.overridden_by}: {facts.override_reason}"
    elif facts.acknowledged_by:
        yield f"Acknowledged {moment(facts.acknowledged_at, zone)} by {facts.acknowledged_by}"
    yield from (f"- {reason}" for reason in facts.reasons)
    yield f"Last test {moment(facts.last_test_at, zone)}, {facts.next_test_words}"
    yield facts.advice_note


def advice_lines(facts: AdviceFacts, zone: tzinfo, *, mark: str) -> Iterator[str]:
    """A recommendation with its parts, its evidence and its reasons."""
    yield f"{'HOLD AND TEST AGAIN. ' if facts.hold else ''}{facts.sentence}"
    for one in facts.additions:
        parts = parts_words(one, mark)
        band = f"+/- {one.band_text} kg" if one.band_text else ""
        yield f"  {one.label:20} {one.text:>8} kg  {one.change_text:>6} kg  {band:14} = {parts}"
        if one.binds:
            yield f"    {one.binds}"
    if facts.expected:
        said = (f"{one.label} {one.text} +/- {one.band_text} {one.unit}".rstrip() for one in facts.expected)
        yield f"Should give: {', '.join(said)}"
    yield f"Rests on {facts.basis}:" if facts.basis else "Rests on:"
    for evidence in facts.evidence:
        yield f"  {evidence.label:28} {evidence.text:>8} {evidence.unit:4} {evidence.words}"
    yield from (f"- {reason}" for reason in facts.reasons)
    yield f"Computed {moment(facts.at, zone)}; {'released' if facts.released else 'not released'}"
    yield facts.advice_note


def check_lines(facts: CheckFacts) -> Iterator[str]:
    """Every problem of the spec files."""
    if facts.ok:
        yield f"{facts.folder}: the spec files are in order."
    for one in facts.problems:
        yield f"{one.where}: {one.what}; {one.do}"
