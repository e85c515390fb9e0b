"""What the options of a table say: which columns of which file, their baseline, what is known of them."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from sandlab.errors import InputError, Problem, impossible
from sandlab.lab.columns import Column
from sandlab.lab.judged_together import KINDS_TOGETHER
from sandlab.quantities import LARGEST, parse_number

SMALLEST_SD = 1e-9
"""Of numbers up to LARGEST no deviation is written with more digits."""


def names_of(args: Namespace) -> list[str]:
    """The heads of the columns asked for."""
    named = args.column or []
    return [named] if isinstance(named, str) else list(named)


def column_of(args: Namespace) -> Column:
    """The column that the options name, the first of several; raises InputError with every problem."""
    names = names_of(args)
    problems = [] if names else [Problem("column", "is not named", "add --column NAME")]
    if args.property:
        problems.append(Problem(args.property, "is a property", "leave it out beside --csv"))
    group, origins = getattr(args, "group", None), tuple(getattr(args, "came_from", ()))
    problems += _unheeded(args, names, group)
    rows: tuple[int, int] | None = None
    tolerance: tuple[float | None, float | None] = (None, None)
    try:
        rows = _rows(args.baseline_rows)
        tolerance = _ends(args.tolerance)
    except InputError as error:
        problems += error.problems
    if problems:
        raise InputError(problems)
    return Column(Path(args.csv), names[0], rows, args.times, tolerance, group, origins, _known(args))


def _unheeded(args: Namespace, names: list[str], group: str | None) -> list[Problem]:
    """Options that this chart of a table would not heed."""
    problems = []
    if group and args.kind != "subgroup":
        problems.append(Problem("group", f"a chart of kind {args.kind} has none", "add --kind subgroup"))
    if getattr(args, "repeats", False) and args.kind != "subgroup":
        problems.append(Problem("repeats", f"a chart of kind {args.kind} has none", "add --kind subgroup"))
    if len(names) > 1:
        if args.kind not in KINDS_TOGETHER:
            what = f"several columns have no chart of kind {args.kind}"
            problems.append(Problem("kind", what, f"kinds: {', '.join(KINDS_TOGETHER)}; or name one column"))
        given = {"tolerance": args.tolerance, "centre": args.centre, "sd": args.sd}
        problems += [
            Problem(f"--{name}", "is of one column", "leave it out beside several columns")
            for name, value in given.items()
            if value is not None
        ]
    return problems


def _known(args: Namespace) -> tuple[float, float] | None:
    """Centre and standard deviation that are given; raises InputError for one alone or beside a baseline."""
    centre: float | None = getattr(args, "centre", None)
    sd: float | None = getattr(args, "sd", None)
    if centre is None and sd is None:
        return None
    problems = []
    if centre is None or sd is None:
        missing = "centre" if centre is None else "sd"
        problems.append(Problem(f"--{missing}", "is missing", "give --centre and --sd together"))
    elif not SMALLEST_SD <= sd <= LARGEST:
        do = f"give a value from {SMALLEST_SD:g} to {LARGEST:g}"
        problems.append(Problem("--sd", f"{sd:g} is no standard deviation", do))
    if centre is not None and abs(centre) > LARGEST:
        problems.append(Problem("--centre", f"{centre:g} is too large", "check for a missing decimal mark"))
    if args.baseline_rows:
        problems.append(Problem("--baseline-rows", "stand beside known figures", "give one or the other"))
    if args.kind == "subgroup":
        what = "are of single tests"
        problems.append(Problem("--centre and --sd", what, "name --baseline-rows, or another --kind"))
    if problems:
        raise InputError(problems)
    return None if centre is None or sd is None else (centre, sd)


def _rows(written: str | None) -> tuple[int, int] | None:
    """A:B as two numbers of rows."""
    if written is None:
        return None
    first, sign, last = written.partition(":")
    if not (sign and first.strip().isdigit() and last.strip().isdigit()):
        raise impossible("baseline rows", f"'{written}' is not A:B", "write for example 1:30")
    return int(first), int(last)


def _ends(written: str | None) -> tuple[float | None, float | None]:
    """LOW:HIGH as two numbers, either of which may be missing."""
    if written is None:
        return None, None
    low, sign, high = written.partition(":")
    if not sign or not (low.strip() or high.strip()):
        raise impossible("tolerance", f"'{written}' is not LOW:HIGH", "write for example 38:46, :46 or 38:")
    ends = (parse_number(end, where="tolerance").value if end.strip() else None for end in (low, high))
    return next(ends), next(ends)
