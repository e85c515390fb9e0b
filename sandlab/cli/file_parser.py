"""The words of the commands that write files for others: exports, evidence, reports."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable
from typing import Any

Command = Callable[..., ArgumentParser]


def add(commands: Any, command: Command) -> None:
    """The commands whose answer is a file."""
    export = command(commands, "export", "write records as CSV, Parquet or a workbook", _later("export"))
    _period(export)
    export.add_argument(
        "--format", choices=("csv", "parquet", "xlsx"), default="xlsx", help="kind of file (a workbook)"
    )
    export.add_argument("--out", required=True, metavar="PLACE", help="a new folder, or a new .xlsx file")
    export.add_argument(
        "--kind", action="append", default=[], metavar="KIND", help="tests, results, batches ...; else all"
    )
    evidence = command(
        commands,
        "evidence",
        "write a folder that proves a period to an auditor, or check one",
        _later("evidence"),
    )
    _period(evidence)
    evidence.add_argument(
        "--property", action="append", default=[], metavar="KEY", help="a property; without, all with results"
    )
    evidence.add_argument("--out", metavar="FOLDER", help="the new folder")
    evidence.add_argument("--verify", metavar="FOLDER", help="check a folder instead of writing one")
    evidence.add_argument(
        "--rebuild", action="store_true", help="with --verify: also make it anew from the plant and compare"
    )
    report = command(commands, "report", "the report of a shift, or the review of a month", _later("report"))
    which = report.add_mutually_exclusive_group()
    which.add_argument(
        "--shift",
        default="last",
        metavar="WHICH",
        help="last, now, or a local time in it such as 2026-03-02T06:00",
    )
    which.add_argument("--month", metavar="YYYY-MM", help="a month instead of a shift")
    report.add_argument(
        "--made", metavar="TIME", help="when it is made, else now: the same time, the same bytes"
    )
    report.add_argument("--out", metavar="FILE", help="the new file, .pdf or .html; without, only words")


def _later(name: str) -> Callable[[Namespace], int]:
    """A command imported when it runs."""

    def run(args: Namespace) -> int:
        from sandlab.cli import file_commands

        chosen: Callable[[Namespace], int] = getattr(file_commands, name)
        return chosen(args)

    return run


def _period(parser: ArgumentParser) -> None:
    parser.add_argument("--from", dest="since", metavar="TIME", help="start: a day or a local ISO time")
    parser.add_argument("--to", dest="until", metavar="TIME", help="end; a day counts to its midnight")
