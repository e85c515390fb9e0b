"""The words of the commands about the sand balance: state, what is ahead, plant values, books."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable
from typing import Any

Command = Callable[..., ArgumentParser]


def add(commands: Any, command: Command) -> None:
    """The commands of the foundry engineer's balance."""
    balance = command(
        commands, "balance", "what is really in the sand, with bands, and what goes round", _later("balance")
    )
    _picture(balance)
    forecast = command(
        commands, "forecast", "what jobs and settings lead to: bands, cost, steady state", _later("forecast")
    )
    forecast.add_argument("--days", type=float, default=3.0, metavar="N", help="days ahead")
    forecast.add_argument(
        "--job",
        action="append",
        default=[],
        metavar="NAME[=SHARE]",
        help="a job poured lately, with its share of the metal; several make a mix",
    )
    forecast.add_argument("--sand-to-metal", metavar="R", help="dry sand per metal, instead of the job's")
    forecast.add_argument("--core-sand", metavar="T/T", help="core sand per t of metal, instead of the job's")
    forecast.add_argument(
        "--set", action="append", default=[], metavar="FEEDER=KG", help="kg per batch instead of what is set"
    )
    forecast.add_argument("--new-sand", metavar="KG/T", help="new sand per t of metal")
    forecast.add_argument("--fines", metavar="%", help="inert fines that new sand should hold, else target")
    _picture(forecast)
    identify = command(
        commands,
        "identify",
        "plant values that the last days tell, with confidence limits",
        _later("identify"),
    )
    identify.add_argument("--days", type=float, default=25.0, metavar="N", help="20 to 30 working days")
    books = command(
        commands, "books", "material balance of a period, and what does not close", _later("books")
    )
    books.add_argument("--from", dest="window_from", metavar="TIME", help="start (local ISO time)")
    books.add_argument("--to", dest="window_to", metavar="TIME", help="end; else the last seven days")


def _picture(parser: ArgumentParser) -> None:
    picture = parser.add_argument_group("picture")
    picture.add_argument("--width", type=int, default=80)
    picture.add_argument("--glyphs", choices=("full", "console", "ascii"), default="full")


def _later(name: str) -> Callable[[Namespace], int]:
    """A command imported when it runs."""

    def run(args: Namespace) -> int:
        from sandlab.cli import balance_commands

        chosen: Callable[[Namespace], int] = getattr(balance_commands, name)
        return chosen(args)

    return run
