"""Words on the command line: the same verbs as the screens, and the start of the terminal tool."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from sandlab.errors import NeedsConfirmation, SandlabError


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; problems go to standard error, each with where, what and what to do."""
    try:
        from sandlab.cli.parser import build

        args = build().parse_args(argv)
        return int(args.run(args))
    except SandlabError as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)
        if isinstance(error, NeedsConfirmation):
            print(f"confirm with: {' '.join(f'--confirm {name}' for name in error.names)}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("broken off", file=sys.stderr)
        return 130  # as shells tell an interrupt
    except BrokenPipeError:
        # The reader of a pipe (head, less) has gone; that is no error.
        sys.stderr.close()
        return 0
