"""`advise --stream`: the balance without a store, JSON lines in and out."""

from __future__ import annotations

import sys
from argparse import Namespace

from sandlab.cli.commands import folder_of
from sandlab.errors import impossible, nearest
from sandlab.lab.learning import model_of
from sandlab.lab.opening import checked_specs
from sandlab.lab.streaming import Refused, answers


def stream(args: Namespace) -> int:
    """Answer every advice due on standard output, tell bad lines on standard error; 1 when a line was bad."""
    specs = checked_specs(folder_of(args))
    names = list(specs.systems)
    system = args.system or next(iter(names), "")
    if system not in names:
        raise impossible("system", f"'{system}' is not a sand system of this plant", nearest(system, names))
    bad = 0
    for answer in answers(model_of(specs, system), specs.zone, sys.stdin):
        if isinstance(answer, Refused):
            print(answer.problem, file=sys.stderr, flush=True)
            bad += answer.wrong
        else:
            print(answer.model_dump_json(), flush=True)
    return 1 if bad else 0
