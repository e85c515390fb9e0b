"""The commands about a shift."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from datetime import tzinfo

from sandlab.cli.commands import opened, show
from sandlab.cli.text import moment, sample_lines
from sandlab.errors import impossible
from sandlab.lab import correcting, explaining, handing, reacting
from sandlab.lab.facts import ExplanationFacts, HandoverFacts, StepsFacts


def handover(args: Namespace) -> int:
    """Show, write or take over the notes for the next shift."""
    reads = not (args.write is not None or args.read)
    with opened(args, reads=reads) as lab:
        if args.write is not None:
            facts = handing.write_handover(lab, text=args.write, by=args.by)
        elif args.read:
            facts = handing.take_over(lab, by=args.by)
        else:
            facts = handing.handover(lab, last=args.last)
    return show(args, facts, handover_lines(facts))


def steps(args: Namespace) -> int:
    """Show the steps of the reaction plan that are due, or mark one as done."""
    with opened(args, reads=args.done is None) as lab:
        facts = reacting.steps_due(lab)
        if args.done is not None:
            if not 1 <= args.done <= len(facts.steps):
                raise impossible("--done", f"there is no step {args.done}", "run: sandlab steps")
            one = facts.steps[args.done - 1]
            facts = reacting.mark_step(
                lab, property=one.property, signal=one.signal, step=one.step, by=args.by, found=args.found
            )
    return show(args, facts, steps_lines(facts))


def remark(args: Namespace) -> int:
    """Put a remark on a sample."""
    with opened(args) as lab:
        facts = correcting.remark(lab, sample=args.sample, text=args.text, by=args.by, property=args.property)
        lines = list(sample_lines(facts, lab.zone))
    return show(args, facts, lines)


def explain(args: Namespace) -> int:
    """How a result came about."""
    with opened(args, reads=True) as lab:
        facts = explaining.explain(lab, args.sample, args.property)
        lines = list(explain_lines(facts, lab.zone))
    return show(args, facts, lines)


def explain_lines(facts: ExplanationFacts, zone: tzinfo) -> Iterator[str]:
    """Each result with what it was computed from."""
    yield f"{moment(facts.taken_at, zone)}  {facts.point}  {facts.sample}"
    for one in facts.results:
        yield f"{one.label}: {one.text} {one.unit}".rstrip()
        if one.method_label:
            yield f"  {one.method_label}, formula {one.formula}; {one.source}"
        for each in one.inputs:
            yield f"  {each.label:32} {each.text:>10} {each.unit:6} repeat {each.repeat}"
        yield from (f"  {name} = {value}" for name, value in one.constants.items())
        yield f"  {one.words}"
        yield f"  specs {one.specs_hash}"


def steps_lines(facts: StepsFacts) -> Iterator[str]:
    """Every step under the reason for it."""
    yield facts.words
    for one in facts.steps:
        yield f"{one.number:3}  {one.words}"
        yield f"     {one.reason}; {one.who}"


def handover_lines(facts: HandoverFacts) -> Iterator[str]:
    """Every note with who wrote it and who has read it."""
    yield facts.words
    for one in facts.notes:
        yield f"{'      ' if one.read_by else 'UNREAD'}  {one.text}"
        yield f"        {one.words}"
