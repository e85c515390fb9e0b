"""Instruments on the command line: how they are, listening without a screen, and batches to be logged."""

from __future__ import annotations

import time
from argparse import Namespace
from collections.abc import Iterator

from sandlab.cli.commands import opened, show
from sandlab.errors import impossible
from sandlab.lab import instruments as verbs
from sandlab.lab.facts import InstrumentsFacts
from sandlab.lab.listening import listen
from sandlab.lab.opening import Lab


def instruments(args: Namespace) -> int:
    """How the instruments are; with --listen it listens until it is stopped."""
    with opened(args, reads=not (args.listen or args.take_batches)) as lab:
        if args.take_batches:
            if not args.by:
                raise impossible("operator", "no initials", "add --by INITIALS")
            batches = verbs.log_offered_batches(lab, by=args.by)
            facts = verbs.instruments(lab)
            return show(args, facts, [f"{len(batches)} batches logged.", *_lines(facts)])
        if args.listen:
            return _listen(args, lab)
        facts = verbs.instruments(lab)
    return show(args, facts, _lines(facts))


def _listen(args: Namespace, lab: Lab) -> int:
    listening = listen(lab)
    if listening is None:
        do = "see sandlab instruments" if lab.specs.instruments else "describe one in specs/instruments.toml"
        what = "somebody listens already" if lab.specs.instruments else "the plant has none"
        raise impossible("instruments", what, do)
    print(f"Listening to {len(listening.listeners)} instruments; Ctrl+C ends it.", flush=True)
    told: dict[str, str] = {}
    try:
        while True:
            for one in verbs.instruments(lab).instruments:
                if told.get(one.instrument) != one.words:
                    told[one.instrument] = one.words
                    print(one.words, flush=True)
            time.sleep(1.0)
    except KeyboardInterrupt:
        return 0
    finally:
        listening.stop()


def _lines(facts: InstrumentsFacts) -> Iterator[str]:
    if not facts.instruments:
        yield "No instrument is described: see specs/instruments.toml."
    for one in facts.instruments:
        yield one.words
    for offer in facts.offers:
        yield f"  offered: {offer.target} {offer.text} {offer.unit}".rstrip() + f"  ({offer.words})"
    for batch in facts.batches:
        yield f"  waiting: {batch.words}"
    if any(one.unread for one in facts.instruments):
        yield f"Lines that were not read, with the reason: {facts.log}"
