"""The commands about a shift."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from sandlab.cli.commands import opened, show
from sandlab.lab import handing
from sandlab.lab.facts import HandoverFacts


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


def handover_lines(facts: HandoverFacts) -> Iterator[str]:
    """Every note with who wrote it and who has read it."""
    yield facts.words
    for one in facts.notes:
        yield f"{'      ' if one.read_by else 'UNREAD'}  {one.text}"
        yield f"        {one.words}"
