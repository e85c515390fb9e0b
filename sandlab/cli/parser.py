"""The words of the command line and what they call; nothing heavy is imported until a command runs."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace, RawDescriptionHelpFormatter
from collections.abc import Callable
from typing import Any

from sandlab import __version__
from sandlab.cli import (
    balance_parser,
    chart_parser,
    file_parser,
    import_parser,
    length_parser,
    sand_parser,
    serve_command,
    shift_parser,
)

EPILOG = """\
Advice to trained people under the site's rules; it never drives a machine. Never sample by hand from a
running muller. Silica dust, coal dust, furnaces and acids: follow local codes and licensed practice.
"""

Run = Callable[[Namespace], int]


def build() -> ArgumentParser:
    """The parser of all commands."""
    parser = ArgumentParser(
        prog="sandlab",
        description="Keeps a foundry's moulding sand right: tests, charts, balance, additions.",
        epilog=EPILOG,
        formatter_class=RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"sandlab {__version__}")
    _common(parser, default=True)
    parser.set_defaults(run=_later("open_screens"))
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    _reading_commands(commands)
    chart_parser.add(commands, _command)
    length_parser.add(commands, _command)
    balance_parser.add(commands, _command)
    file_parser.add(commands, _command)
    import_parser.add(commands, _command)
    _writing_commands(commands)
    shift_parser.add(commands, _command)
    sand_parser.add(commands, _command)
    _muller_commands(commands)
    _plant_commands(commands)
    serve_command.add(commands, _command)
    return parser


def _later(name: str) -> Run:
    """A command imported when it runs."""

    def run(args: Namespace) -> int:
        from sandlab.cli import commands

        chosen: Run = getattr(commands, name)
        return chosen(args)

    return run


def _common(parser: ArgumentParser, *, default: bool = False) -> None:
    # On a subcommand the option is left unset when not given, so that one given before the command stays.
    from argparse import SUPPRESS

    unset: Any = None if default else SUPPRESS
    parser.add_argument("--plant", metavar="FOLDER", default=unset, help="plant folder (else $SANDLAB_PLANT)")
    parser.add_argument("--system", metavar="NAME", default=unset, help="sand system, else the plant's first")


def _command(
    commands: Any, name: str, help_text: str, run: str | Run, *, json: bool = True
) -> ArgumentParser:
    parser: ArgumentParser = commands.add_parser(name, help=help_text, description=help_text)
    _common(parser)
    if json:
        parser.add_argument("--json", action="store_true", help="print the facts as JSON")
    parser.set_defaults(run=_later(run) if isinstance(run, str) else run)
    return parser


def _by(parser: ArgumentParser) -> None:
    parser.add_argument("--by", required=True, metavar="INITIALS", help="who does this")


def _reading_commands(commands: Any) -> None:
    _command(commands, "due", "what is due now", "due")
    sheet = _command(commands, "sheet", "the latest samples with their results", "sheet")
    sheet.add_argument("--last", type=int, default=10, metavar="N")
    sheet.add_argument("--day", metavar="DAY", help="all of a day: today, yesterday or 2026-03-04")
    _command(commands, "additions", "what the muller operator reads", "additions")
    schema = _command(
        commands, "schema", "the JSON Schema of a command's --json output", "schema", json=False
    )
    schema.add_argument("command")


def _writing_commands(commands: Any) -> None:
    record = _command(
        commands, "record", "log a sample, for example compactability=42 moisture=3.2", "record"
    )
    record.add_argument("values", nargs="+", metavar="PROPERTY=VALUE")
    _by(record)
    record.add_argument("--point", help="sampling point, else that of the first test set")
    record.add_argument("--at", metavar="TIME", help="when it was taken (local ISO time), else now")
    record.add_argument("--note", default="")
    record.add_argument(
        "--confirm", action="append", default=[], metavar="PROPERTY", help="doubtful, but right"
    )
    record.add_argument(
        "--method",
        action="append",
        default=[],
        metavar="PROPERTY=METHOD",
        help="VALUE is readings, r1:r2;r1:r2",
    )
    correct = _command(commands, "correct", "correct a value of an earlier sample, or void it", "correct")
    correct.add_argument("sample")
    correct.add_argument("value", metavar="PROPERTY=VALUE", help="an empty VALUE voids the result")
    _by(correct)
    correct.add_argument("--reason", required=True)
    correct.add_argument("--confirm", action="append", default=[], metavar="PROPERTY")
    event = _command(commands, "event", "put a note on the time line", "event")
    event.add_argument("text")
    _by(event)
    event.add_argument(
        "--kind", default="note", choices=("note", "supplier", "maintenance", "stop", "handover")
    )


def _muller_commands(commands: Any) -> None:
    advise = _command(commands, "advise", "compute additions for the next batches", "advise")
    advise.add_argument("--by", metavar="INITIALS", help="who does this; not with --stream")
    advise.add_argument(
        "--stream",
        action="store_true",
        help="JSON lines in as they become known, a recommendation out for each advice due; "
        "their schemas: sandlab schema stream-line, sandlab schema advise-stream",
    )
    release = _command(commands, "release", "let the muller see the last computed additions", "release")
    _by(release)
    acknowledge = _command(commands, "acknowledge", "the muller operator has set them", "acknowledge")
    _by(acknowledge)
    override = _command(commands, "override", "the operator runs other kg, for example water=21", "override")
    override.add_argument("kg", nargs="+", metavar="FEEDER=KG")
    _by(override)
    override.add_argument("--reason", required=True)
    batch = _command(commands, "batch", "log the kg that really went into a batch", "batch")
    batch.add_argument("kg", nargs="+", metavar="FEEDER=KG")
    batch.add_argument("--return-sand", metavar="KG", help="moist return sand charged, else the usual batch")
    batch.add_argument("--at", metavar="TIME", help="when it was made (local ISO time), else now")
    _by(batch)


def _plant_commands(commands: Any) -> None:
    check = _command(commands, "check", "report every problem of a plant's spec files", "check")
    check.add_argument("folder", nargs="?", help="plant folder, else the one in use")
    demo = _command(commands, "demo", "open the tool on an invented foundry", "demo", json=False)
    demo.add_argument("--fresh", action="store_true", help="throw the old demo away and simulate a new one")
    demo.add_argument("--seed", type=int, default=7)
    demo.add_argument("--no-screen", action="store_true", help="only make the demo plant")
