"""Balance commands: each opens the plant, calls one verb, and prints its facts."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterable

from sandlab.cli import balance_text
from sandlab.cli.commands import local_time, opened, show
from sandlab.cli.words import sides
from sandlab.errors import InputError, Problem
from sandlab.lab import balancing, bookkeeping, foreseeing, identifying
from sandlab.lab.asking import WhatIf
from sandlab.quantities import parse_number


def balance(args: Namespace) -> int:
    """The sand now, and the flow of today."""
    with opened(args, reads=True) as lab:
        facts = balancing.balance(lab)
    return show(
        args, facts, balance_text.balance_lines(facts, lab.zone, width=args.width, glyphs=args.glyphs)
    )


def forecast(args: Namespace) -> int:
    """Days ahead at other jobs or settings."""
    asked = _what_if(args)
    with opened(args, reads=True) as lab:
        facts = foreseeing.forecast(lab, asked)
    lines = balance_text.forecast_lines(facts, lab.zone, mark=lab.mark, width=args.width, glyphs=args.glyphs)
    return show(args, facts, lines)


def identify(args: Namespace) -> int:
    """Plant values of the last days; progress goes to standard error where a person watches."""
    with opened(args, reads=True) as lab:
        window = identifying.window_of(lab, args.days)
        facts = identifying.solve(window, _bar if sys.stderr.isatty() else lambda share: None)
    if sys.stderr.isatty():
        print("\r\033[K", end="", file=sys.stderr)
    return show(args, facts, balance_text.identify_lines(facts, lab.zone))


def books(args: Namespace) -> int:
    """The books of a period."""
    with opened(args, reads=True) as lab:
        facts = bookkeeping.period_books(
            lab,
            window_from=local_time(lab, args.window_from) if args.window_from else None,
            window_to=local_time(lab, args.window_to) if args.window_to else None,
        )
    return show(args, facts, balance_text.books_lines(facts, lab.mark))


def _bar(share: float) -> None:
    print(f"\rfitting plant values, {share:.0%} ", end="", file=sys.stderr, flush=True)


def _what_if(args: Namespace) -> WhatIf:
    """The options as a question, all problems of their numbers at once."""
    problems: list[Problem] = []

    def number(written: str | None, where: str) -> float | None:
        if written is None:
            return None
        try:
            return parse_number(written, where=where).value
        except InputError as error:
            problems.extend(error.problems)
            return None

    def numbers(pairs: Iterable[tuple[str, str]]) -> dict[str, float]:
        found = {name: number(value, name) for name, value in pairs}
        return {name: value for name, value in found.items() if value is not None}

    asked = WhatIf(
        days=args.days,
        jobs=numbers(sides(one if "=" in one else f"{one}=1" for one in args.job)),
        sand_to_metal=number(args.sand_to_metal, "sand to metal"),
        core_sand_t_per_t=number(args.core_sand, "core sand"),
        kg=numbers(sides(args.set)),
        new_sand_per_t=number(args.new_sand, "new sand"),
        fines=number(args.fines, "fines"),
    )
    if problems:
        raise InputError(problems)
    return asked
