"""Facts about reports as plain lines."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo

from sandlab.cli.text import moment
from sandlab.lab.facts import ReportFacts


def report_lines(facts: ReportFacts, zone: tzinfo) -> Iterator[str]:
    """A report without its charts."""
    yield f"{facts.plant}, {facts.system}, {facts.name}"
    yield from facts.words
    for one in facts.results:
        span = f"{one.low_text} / {one.mean_text} / {one.high_text} {one.unit}"
        outside = f", outside {one.aim}: {one.outside}" if one.aim else ""
        yield f"  {one.label:28} {one.count:4} tests  {span}{outside}"
    for signal in facts.signals:
        yield f"ALARM  {moment(signal.at, zone)}  {signal.label}: {signal.reason}"
        yield from (f"       {line}" for line in signal.done or ("nothing written down",))
    for reaction in facts.reactions:
        back = f"inside again {moment(reaction.back_at, zone)}" if reaction.back_at else "not inside again"
        yield f"LIMIT  {moment(reaction.at, zone)}  {reaction.what}; {back}"
        for step in reaction.steps:
            yield f"       {'done' if step.done_at else 'open'}  {step.step} {step.done_by}".rstrip()
    for added in facts.additions:
        kg = {"recommended": added.recommended_text, "set": added.set_text, "made": added.made_text}
        said = ", ".join(f"{name} {text:>7}" for name, text in kg.items())
        yield f"  {added.label:28} {said} kg, {added.batches} batches"
    yield from facts.decisions
    yield from facts.corrections
    yield from (f"NOTE   {one.text} ({one.words})" for one in facts.notes)
