"""Commands whose answer is a file: each calls one verb of the lab and says what was written."""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from sandlab.cli.commands import local_time, opened, show
from sandlab.lab import exporting
from sandlab.lab.opening import Lab
from sandlab.lab.periods import MICROSECOND, Period


def export(args: Namespace) -> int:
    """Write the records of a period."""
    with opened(args, reads=True) as lab:
        facts = exporting.export(
            lab, Path(args.out), format=args.format, period=period_of(lab, args), kinds=args.kind
        )
    rows = [f"  {kind:18} {count:>9}" for kind, count in facts.rows.items() if count]
    return show(args, facts, [facts.words, *rows])


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
    following = day + timedelta(days=1)
    return datetime(following.year, following.month, following.day, tzinfo=lab.zone).astimezone(UTC)
