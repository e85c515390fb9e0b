"""Taking in files: what a dry run says, and how far a long one is."""

from __future__ import annotations

import signal
import sys
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import Self

from sandlab.cli.commands import opened, show
from sandlab.errors import ImportRefused, Problem
from sandlab.lab import importing
from sandlab.lab.facts import ImportFacts


def import_file(args: Namespace) -> int:
    """Take in a workbook or text table; a misspelt name begins no plant."""
    if not Path(args.file).exists():
        raise ImportRefused(Problem(args.file, "there is no such file", "check the name and the folder"))
    with opened(args) as lab:
        mapping = Path(args.mapping) if args.mapping else None
        with _Progress() as progress:
            facts = importing.import_file(
                lab,
                Path(args.file),
                mapping,
                by=args.by,
                commit=args.commit,
                confirmed=args.confirm,
                tell=progress.tell,
            )
    return show(args, facts, import_lines(facts))


class _Progress:
    """One line on standard error, written over and over; nothing where nobody watches.

    Ctrl+C breaks the import off at its next step. What is saved already is not said to be broken off, as an
    interrupt at any moment would.
    """

    def __init__(self) -> None:
        self.width = 0
        self.stopped = False

    def __enter__(self) -> Self:
        self._before = signal.signal(signal.SIGINT, self._stop)
        return self

    def __exit__(self, *_: object) -> None:
        signal.signal(signal.SIGINT, self._before)
        self.end()

    def _stop(self, *_: object) -> None:
        self.stopped = True

    def tell(self, what: str, done: int, of: int) -> None:
        """Say what is being done and how much of it; raises ImportRefused after Ctrl+C."""
        if self.stopped:
            raise ImportRefused(Problem("import", "was broken off; nothing was saved", "start it again"))
        if not sys.stderr.isatty():
            return
        line = f"{what} {done} of {of}" if done else f"{what} ..."
        print(f"\r{line:<{self.width}}", end="", file=sys.stderr, flush=True)
        self.width = len(line)

    def end(self) -> None:
        """Take the line away."""
        if self.width:
            print("\r" + " " * self.width + "\r", end="", file=sys.stderr, flush=True)


def import_lines(facts: ImportFacts) -> Iterator[str]:
    """The proposed mapping when there is one, the report, then what became of it."""
    if facts.proposed:
        yield f"A mapping is proposed: {facts.mapping}"
        yield from _guess_lines(facts)
        yield ""
    yield from facts.report
    yield ""
    yield facts.words


def _guess_lines(facts: ImportFacts) -> Iterator[str]:
    """Each column with what it is taken for, then what has to be settled."""
    for sheet in dict.fromkeys(one.sheet for one in facts.guesses):
        yield f"  {sheet}"
        for one in facts.guesses:
            if one.sheet == sheet:
                sure = f"{one.word} {one.confidence:.0%}" if one.means else one.word
                head = " ".join(one.head.split())
                reason = f" ({one.reason})" if one.word == "look" else ""
                yield f"    {one.column:>3} {head:<24.24} {one.means:<28} {sure}{reason}"
    for question in facts.questions:
        yield f"  ? {question.where}: {question.what}; {question.do}"
