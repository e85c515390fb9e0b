"""The words of the commands that take in files."""

from __future__ import annotations

from argparse import Namespace
from typing import Any

from sandlab.cli.chart_parser import Command


def add(commands: Any, command: Command) -> None:
    """Files in."""
    about = "take in a workbook, OpenDocument sheet or text table; a dry run unless --commit"
    import_ = command(commands, "import", about, _import_file)
    import_.add_argument("file")
    import_.add_argument(
        "--mapping", metavar="TOML", help="how to read it; else a kept one with the same heads, or a proposal"
    )
    import_.add_argument("--commit", action="store_true", help="save what the dry run showed")
    import_.add_argument("--by", required=True, metavar="INITIALS", help="who does this")


def _import_file(args: Namespace) -> int:
    from sandlab.cli.import_commands import import_file

    return import_file(args)
