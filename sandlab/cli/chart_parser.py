"""The words of the chart commands."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable
from typing import Any

from sandlab.cli.length_parser import number

Command = Callable[..., ArgumentParser]
KINDS = ("individuals", "ewma", "cusum", "residual", "wide", "subgroup")


def add(commands: Any, command: Command) -> None:
    """The commands that look at charts and that freeze limits."""
    command(commands, "overview", "the state of every property", _later("overview"))
    _chart(commands, command)
    figures = command(
        commands, "figures", "the figures behind a chart: baseline, drift, fit, rules", _later("figures_of")
    )
    _what(figures, "a property, or kg of a feeder such as water_kg")
    figures.add_argument("--column", action="append", metavar="NAME", help="head of the column")
    figures.add_argument(
        "--came-from",
        action="append",
        default=[],
        metavar="NAME",
        help="head of a column that tells the muller, operator or sampling point of each test",
    )
    _limits(commands, command)


def _chart(commands: Any, command: Command) -> None:
    """One chart: of what, of which kind, drawn how."""
    chart = command(
        commands, "chart", "the control chart of a property, an addition or a column", _later("chart")
    )
    about = (
        "a property, 'together' for the hourly set, kg of a feeder such as water_kg, or what the balance did "
        "not foresee of a property, such as active_clay_innovation"
    )
    _what(chart, about)
    chart.add_argument("--kind", choices=KINDS, default="individuals", help="kind of chart")
    chart.add_argument("--last", type=_count, metavar="N", help="tests to show, else 120")
    chart.add_argument("--from", dest="since", metavar="TIME", help="start of what is shown (local ISO time)")
    chart.add_argument("--to", dest="until", metavar="TIME", help="end of what is shown")
    chart.add_argument(
        "--with",
        dest="beside",
        metavar="OTHER",
        help="a second property on the same time line (its JSON: schema chart-with)",
    )
    chart.add_argument(
        "--against",
        metavar="OTHER",
        help="a scatter against another property with the expected relation (its JSON: schema relation)",
    )
    _columns_and_design(chart)
    groups = chart.add_argument_group("a chart of subgroups, kind subgroup")
    groups.add_argument("--group", metavar="NAME", help="head of the column that names each row's subgroup")
    groups.add_argument(
        "--spread", choices=("range", "deviation"), default="deviation", help="inside each, below the means"
    )
    groups.add_argument(
        "--repeats", action="store_true", help="rows of a group are repeats of one sample, not samples"
    )
    picture = chart.add_argument_group("picture")
    picture.add_argument("--width", type=_columns, default=78, help="columns, 40 or more")
    picture.add_argument("--height", type=_lines, default=18, help="lines, 8 or more")
    picture.add_argument("--svg", metavar="FILE", help="write the picture as SVG too")
    picture.add_argument("--glyphs", choices=("full", "console", "ascii"), default="full")


def _columns_and_design(chart: ArgumentParser) -> None:
    """Columns of a table with what is known of them, and the figures of EWMA and CUSUM."""
    columns = chart.add_argument_group("columns of the table, and known figures in place of its baseline")
    columns.add_argument(
        "--column",
        action="append",
        metavar="NAME",
        help="head of the column; given more than once, those columns are judged together",
    )
    columns.add_argument("--centre", type=number, metavar="C", help="known level, with --sd")
    columns.add_argument("--sd", type=number, metavar="S", help="known standard deviation, with --centre")
    design = chart.add_argument_group("what an EWMA or CUSUM chart is asked for, or set to")
    design.add_argument("--once-in", type=number, metavar="N", help="tests to a false alarm")
    design.add_argument("--shift", type=number, metavar="D", help="shift in standard deviations")
    design.add_argument("--within", type=number, metavar="M", help="tests to find the shift in")
    about = "weight of the newest test (ewma), in place of the wish"
    design.add_argument("--weight", type=number, metavar="W", help=about)
    about = "limits in standard deviations of the average (ewma)"
    design.add_argument("--limit-width", type=number, metavar="L", help=about)
    about = "reference value of the sums (cusum), in place of the wish"
    design.add_argument("--reference", type=number, metavar="K", help=about)
    about = "decision interval of the sums (cusum)"
    design.add_argument("--decision", type=number, metavar="H", help=about)


def _limits(commands: Any, command: Command) -> None:
    """The commands that freeze limits, and that choose what they come from."""
    leave = command(
        commands, "leave-out", "leave one test out of all limits frozen from now on", _later("leave_out")
    )
    leave.add_argument("property")
    leave.add_argument("sample")
    leave.add_argument("--again", action="store_true", help="let a test that was left out count again")
    leave.add_argument("--by", required=True, metavar="INITIALS", help="who does this")
    leave.add_argument("--reason", required=True)
    propose = command(
        commands, "propose", "a window for new limits, and what would leave it", _later("propose")
    )
    propose.add_argument("property")
    _window(propose)
    freeze = command(
        commands, "freeze", "freeze the chart limits of a property from a window", _later("freeze")
    )
    freeze.add_argument("property")
    _window(freeze)
    freeze.add_argument("--proposed", action="store_true", help="the window that propose shows")
    freeze.add_argument(
        "--leave-out", action="append", default=[], metavar="SAMPLE", help="a sample left out"
    )
    freeze.add_argument("--by", required=True, metavar="INITIALS", help="who does this")
    freeze.add_argument("--reason", required=True)


def _later(name: str) -> Callable[[Namespace], int]:
    """A chart command imported when it runs."""

    def run(args: Namespace) -> int:
        from sandlab.cli import chart_commands

        chosen: Callable[[Namespace], int] = getattr(chart_commands, name)
        return chosen(args)

    return run


def _what(parser: ArgumentParser, about: str) -> None:
    """What is charted."""
    parser.add_argument("property", nargs="?", help=about)
    table = parser.add_argument_group("a column of any table instead")
    table.add_argument("--csv", metavar="FILE", help="table with a head (CSV, TSV or workbook)")
    table.add_argument("--times", metavar="NAME", help="head of the column with ISO times")
    table.add_argument("--baseline-rows", metavar="A:B", help="rows that limits come from, counted from 1")
    table.add_argument("--tolerance", metavar="LOW:HIGH", help="tolerance; either end may be left out")


def _window(parser: ArgumentParser) -> None:
    parser.add_argument("--from", dest="window_from", metavar="TIME", help="start (local ISO time)")
    parser.add_argument("--to", dest="window_to", metavar="TIME", help="end")


def _count(text: str) -> int:
    """A number of tests, 1 or more."""
    return _between(text, 1, 1_000_000)


def _columns(text: str) -> int:
    """A width that a picture can be drawn in."""
    return _between(text, 40, 1000)


def _lines(text: str) -> int:
    """A height that a picture can be drawn in."""
    return _between(text, 8, 1000)


def _between(text: str, low: int, high: int) -> int:
    from argparse import ArgumentTypeError

    if not text.isdecimal() or not low <= int(text) <= high:
        raise ArgumentTypeError(f"'{text}' is not a number from {low} to {high}")
    return int(text)
