"""The words of the commands about a shift: notes handed over, steps of the reaction plan, remarks."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable
from typing import Any

Command = Callable[..., ArgumentParser]


def add(commands: Any, command: Command) -> None:
    """The commands of the shift."""
    handover = command(
        commands, "handover", "notes for the next shift, and who has read them", _later("handover")
    )
    what = handover.add_mutually_exclusive_group()
    what.add_argument("--write", metavar="TEXT", help="leave a note")
    what.add_argument("--read", action="store_true", help="take over every unread note of others")
    handover.add_argument("--by", metavar="INITIALS", default="", help="who writes or reads")
    handover.add_argument("--last", type=int, default=10, metavar="N", help="notes to show")
    steps = command(commands, "steps", "steps of the reaction plan that are due", _later("steps"))
    steps.add_argument("--done", type=int, metavar="N", help="the step of this number has been taken")
    steps.add_argument("--found", metavar="TEXT", default="", help="what was found")
    steps.add_argument("--by", metavar="INITIALS", default="", help="who took it")
    remark = command(commands, "remark", "put a remark on a sample or one of its values", _later("remark"))
    remark.add_argument("sample")
    remark.add_argument("text")
    remark.add_argument("--property", default="", help="else it is on the whole sample")
    remark.add_argument("--by", metavar="INITIALS", default="", help="who says so")
    explain = command(
        commands, "explain", "how a result came about, and computed once more", _later("explain")
    )
    explain.add_argument("sample")
    explain.add_argument("property", nargs="?", default="")


def _later(name: str) -> Callable[[Namespace], int]:
    """A command imported when it runs."""

    def run(args: Namespace) -> int:
        from sandlab.cli import shift_commands

        chosen: Callable[[Namespace], int] = getattr(shift_commands, name)
        return chosen(args)

    return run
