"""Commands whose answer is a file: each calls one verb of the lab and says what was written."""

from __future__ import annotations

from argparse import Namespace
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from sandlab.cli import file_text
from sandlab.cli.commands import folder_of, local_time, opened, show
from sandlab.errors import impossible
from sandlab.lab import exporting, proving
from sandlab.lab.opening import DATABASE, Lab
from sandlab.lab.periods import MICROSECOND, Period
from sandlab.lab.report import monthly_review, shift_report, write_report
from sandlab.lab.wall_clock import require_year


def _records_of(args: Namespace) -> AbstractContextManager[Lab]:
    """The lab of a plant that is there already: looking at records never begins a new one."""
    folder = folder_of(args)
    if not (folder / DATABASE).exists():
        raise impossible(str(folder), "holds no plant yet", "name the plant's folder with --plant")
    return opened(args, reads=True)


def export(args: Namespace) -> int:
    """Write the records of a period."""
    with _records_of(args) as lab:
        facts = exporting.export(
            lab, Path(args.out), format=args.format, period=period_of(lab, args), kinds=args.kind
        )
    rows = [f"  {kind:18} {count:>9}" for kind, count in facts.rows.items() if count]
    return show(args, facts, [facts.words, *rows])


def evidence(args: Namespace) -> int:
    """Write an evidence pack, or check one."""
    if args.verify:
        if args.rebuild:
            with _records_of(args) as lab:
                facts = proving.verify_pack(Path(args.verify), lab)
        else:
            facts = proving.verify_pack(Path(args.verify))
        show(args, facts, [facts.words, *(f"{one.where}: {one.what}; {one.do}" for one in facts.problems)])
        return 0 if facts.ok else 1
    if not args.out:
        raise impossible("--out", "is not given", "name the folder to write, or one to check with --verify")
    with _records_of(args) as lab:
        facts = proving.evidence_pack(
            lab, Path(args.out), period=period_of(lab, args), properties=args.property
        )
    return show(args, facts, [facts.words])


def report(args: Namespace) -> int:
    """The report of a shift or a month, as words or as a file."""
    with _records_of(args) as lab:
        if args.made:
            at = local_time(lab, args.made)
            lab = replace(lab, clock=lambda: at)
        made = monthly_review(lab, args.month) if args.month else shift_report(lab, args.shift)
        if args.out:
            written = write_report(lab, made, Path(args.out))
            return show(args, written.report, [written.words])
        return show(args, made.facts, file_text.report_lines(made.facts, lab.zone))


def period_of(lab: Lab, args: Namespace) -> Period:
    """The period as written; a day as the end counts whole, a time is not in it any more."""
    since = local_time(lab, args.since) if args.since else None
    until = _end(lab, args.until) - MICROSECOND if args.until else None
    return Period(since, until)


def _end(lab: Lab, written: str) -> datetime:
    try:
        day = date.fromisoformat(written)
    except ValueError:
        return local_time(lab, written)
    require_year(day.year, written, where="time")
    following = day + timedelta(days=1)
    return datetime(following.year, following.month, following.day, tzinfo=lab.zone).astimezone(UTC)
