"""The words of the commands that take in files and readings of instruments."""

from __future__ import annotations

from argparse import Namespace
from typing import Any

from sandlab.cli.chart_parser import Command


def add(commands: Any, command: Command) -> None:
    """Files and readings in."""
    about = "take in a workbook, OpenDocument sheet, text table or export; a dry run unless --commit"
    import_ = command(commands, "import", about, _import_file)
    import_.add_argument("file", help="the file, or the folder or workbook that sandlab export wrote")
    import_.add_argument(
        "--mapping", metavar="TOML", help="how to read it; else a kept one with the same heads, or a proposal"
    )
    import_.add_argument("--commit", action="store_true", help="save what the dry run showed")
    import_.add_argument(
        "--confirm", action="append", default=[], choices=["refused"], help="save without the refused places"
    )
    import_.add_argument("--by", required=True, metavar="INITIALS", help="who does this")
    about = "instruments: how their lines are, what was heard last, what they offer"
    instruments = command(commands, "instruments", about, _instruments)
    instruments.add_argument(
        "--listen", action="store_true", help="listen here until Ctrl+C, without a screen"
    )
    instruments.add_argument(
        "--take-batches", action="store_true", help="log the batches that the muller has reported"
    )
    instruments.add_argument("--by", metavar="INITIALS", help="who logs them")


def _instruments(args: Namespace) -> int:
    from sandlab.cli.instrument_commands import instruments

    return instruments(args)


def _import_file(args: Namespace) -> int:
    from sandlab.cli.import_commands import import_file

    return import_file(args)
