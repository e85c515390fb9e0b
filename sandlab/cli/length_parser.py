"""The words of the commands about charts on paper, and what they print."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Callable
from typing import Any

Command = Callable[..., ArgumentParser]
CHARTS = ("ewma", "cusum", "crosier", "individuals", "moving_range", "rules", "mewma")
FIGURES = {
    "weight": "of the newest test (ewma, mewma)",
    "width": "of the limits in standard deviations",
    "reference": "of the sums (cusum, crosier)",
    "decision": "interval of the sums (cusum, crosier)",
    "head_start": "of the sums, usually half the decision interval (cusum)",
    "sides": "1 for the upper sum alone, else 2 (cusum)",
    "start": "of the average, in standard deviations (ewma)",
    "steady": "1 for limits as wide from the start as later (ewma)",
    "range_width": "limit of the moving range (moving_range)",
    "components": "properties charted together (mewma)",
    "limit": "of the squared distance (mewma)",
    "shift": "of the mean that is to be found, in standard deviations; 0 for false alarms",
    "phi": "autocorrelation of neighbouring tests",
    "share": "of the variance that resembles, the rest being noise of testing",
    "baseline": "tests behind the limits (individuals), else they are exact",
}


def add(commands: Any, command: Command) -> None:
    """The commands that ask about a chart without any tests."""
    lengths = command(commands, "runlength", "how many tests a chart runs until it alarms", _run_length)
    lengths.add_argument("chart", choices=CHARTS)
    for name, about in FIGURES.items():
        lengths.add_argument(f"--{name.replace('_', '-')}", type=number, metavar="X", help=about)
    about = "keys of rules parted by commas, or western_electric, or nelson (rules)"
    lengths.add_argument("--rules", default="western_electric", metavar="KEYS", help=about)
    about = "solve the limit for one false alarm in so many tests (ewma, cusum, mewma)"
    lengths.add_argument("--once-in", type=number, metavar="N", help=about)
    design = command(commands, "design", "an EWMA or CUSUM chart for a wish", _design)
    design.add_argument("chart", choices=("ewma", "cusum"))
    design.add_argument("--once-in", type=number, default=370.0, metavar="N", help="tests to a false alarm")
    design.add_argument("--shift", type=number, default=1.0, metavar="D", help="in standard deviations")
    design.add_argument("--within", type=number, default=12.0, metavar="M", help="tests to find it in")
    design.add_argument("--baseline", type=int, metavar="N", help="tests behind the limits, else exact")
    factors = command(commands, "factors", "constants and factors of subgroup charts by size", _factors)
    factors.add_argument("--largest", type=int, default=10, metavar="N", help="size to end with")
    factors.add_argument("--width", type=number, default=3.0, help="of the limits in standard deviations")


def _run_length(args: Namespace) -> int:
    from sandlab import charts
    from sandlab.cli.commands import show
    from sandlab.lab import run_lengths

    named = {name: getattr(args, name) for name in FIGURES if getattr(args, name) is not None}
    sets = (charts.WESTERN_ELECTRIC, charts.NELSON)
    rules = charts.rule_set(args.rules) if args.rules in sets else tuple(args.rules.split(","))
    facts = run_lengths.run_length(args.chart, run_lengths.Setting(named, rules, args.once_in))
    settings = ", ".join(f"{name.replace('_', ' ')} {value:.6g}" for name, value in facts.settings.items())
    return show(args, facts, [facts.words, f"With {settings}.", *facts.rules])


def _design(args: Namespace) -> int:
    from sandlab.cli.commands import show
    from sandlab.lab import run_lengths

    facts = run_lengths.design(
        args.chart, once_in=args.once_in, shift=args.shift, within=args.within, baseline=args.baseline
    )
    return show(args, facts, [facts.words])


def _factors(args: Namespace) -> int:
    from sandlab.cli.commands import show
    from sandlab.lab import run_lengths

    facts = run_lengths.factors(largest=args.largest, width=args.width)
    lines = ["size      d2      d3      c4      D3      D4      B3      B4"]
    for row in facts.rows:
        values = [row.d2, row.d3, row.c4, row.range_lower, row.range_upper]
        values += [row.deviation_lower, row.deviation_upper]
        lines.append(f"{row.size:4}{''.join(f'{value:8.4f}' for value in values)}")
    return show(args, facts, lines)


def number(text: str) -> float:
    """A finite number."""
    from math import isfinite

    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise ArgumentTypeError(f"'{text}' is not a number") from None
    if not isfinite(value):
        raise ArgumentTypeError(f"'{text}' is not a finite number")
    return value
