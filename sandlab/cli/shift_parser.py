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


def _later(name: str) -> Callable[[Namespace], int]:
    """A command imported when it runs."""

    def run(args: Namespace) -> int:
        from sandlab.cli import shift_commands

        chosen: Callable[[Namespace], int] = getattr(shift_commands, name)
        return chosen(args)

    return run
