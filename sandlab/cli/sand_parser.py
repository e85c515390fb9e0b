"""The words for what the sand goes through: jobs, deliveries, probes, silos, feeders, accepted values."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable
from typing import Any

Command = Callable[..., ArgumentParser]


def add(commands: Any, command: Command) -> None:
    """The commands that write down what the balance needs beside tests and batches."""
    produced = command(commands, "produced", "write down what was poured", _later("produced"))
    _job(produced)
    produced.add_argument("--metal", required=True, metavar="T", help="metal poured, t")
    produced.add_argument("--core-sand", default="0", metavar="T", help="core sand poured around, t")
    planned = command(commands, "planned", "a job of the schedule, fed forward", _later("planned"))
    _job(planned)
    planned.add_argument("--core-share", default="0", metavar="SHARE", help="t core sand per t metal")
    receipt = command(
        commands, "receipt", "a delivery with its certificate, for example active_clay=92", _later("receipt")
    )
    receipt.add_argument("material")
    receipt.add_argument("assay", nargs="*", metavar="COMPONENT=PERCENT", help="of dry material")
    receipt.add_argument("--kg", required=True)
    receipt.add_argument("--lot", required=True)
    receipt.add_argument("--moisture", metavar="PERCENT", help="of the material as delivered")
    receipt.add_argument("--fed-from", metavar="TIME", help="from when it is fed (local ISO time), else now")
    _by(receipt)
    probe = command(
        commands, "probe", "what the belt probes show: moisture=2.1 temperature=38", _later("probe")
    )
    probe.add_argument("values", nargs="+", metavar="NAME=VALUE", help="moisture in %%, temperature in C")
    _at(probe)
    counted = command(commands, "counted", "what is really in a silo", _later("counted"))
    counted.add_argument("material")
    counted.add_argument("kg")
    _at(counted)
    weighed = command(commands, "weighed", "a feeder weighed out", _later("weighed"))
    weighed.add_argument("feeder")
    weighed.add_argument("--shown", required=True, metavar="KG", help="what it showed")
    weighed.add_argument("--came", required=True, metavar="KG", help="what came")
    _at(weighed)
    accept = command(
        commands,
        "accept",
        "plant values that the balance starts from, else those the window identifies",
        _later("accept"),
    )
    accept.add_argument("values", nargs="*", metavar="NAME=VALUE")
    accept.add_argument(
        "--from", dest="window_from", required=True, metavar="TIME", help="start of the window"
    )
    accept.add_argument("--to", dest="window_to", required=True, metavar="TIME", help="its end")
    accept.add_argument("--reason", required=True)
    _by(accept)


def _later(name: str) -> Callable[[Namespace], int]:
    """A command imported when it runs."""

    def run(args: Namespace) -> int:
        from sandlab.cli import sand_commands

        chosen: Callable[[Namespace], int] = getattr(sand_commands, name)
        return chosen(args)

    return run


def _job(parser: ArgumentParser) -> None:
    parser.add_argument("job")
    parser.add_argument("--from", dest="start", required=True, metavar="TIME", help="start (local ISO time)")
    parser.add_argument("--to", dest="until", required=True, metavar="TIME", help="end")
    parser.add_argument("--sand-to-metal", required=True, metavar="RATIO", help="kg dry sand per kg metal")
    _by(parser)


def _at(parser: ArgumentParser) -> None:
    parser.add_argument("--at", metavar="TIME", help="when (local ISO time), else now")
    _by(parser)


def _by(parser: ArgumentParser) -> None:
    parser.add_argument("--by", required=True, metavar="INITIALS", help="who does this")
