"""Chart commands: a property, an addition, the hourly set together, or a column of any table."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from datetime import UTC, datetime, tzinfo
from pathlib import Path

from sandlab.cli import chart_text
from sandlab.cli.commands import local_time, opened, show
from sandlab.cli.table_options import column_of, names_of
from sandlab.drawing import ChartPicture, scatter_cells, scatter_svg, stacked_cells, stacked_svg
from sandlab.errors import InputError, Problem, impossible
from sandlab.lab import (
    charting,
    column_charts,
    column_sets,
    figures,
    grouped,
    leaving,
    phase,
    picturing,
    relating,
    together,
)
from sandlab.lab.designs import Design
from sandlab.lab.facts import BesideFacts, ChartFacts
from sandlab.lab.periods import Period

# Tests of a chart, unless --last, --from or --to say otherwise.
SHOWN = 120
# Options that only a table has, and those that only a property of the plant has.
_OF_TABLES = {
    "column": "--column",
    "centre": "--centre",
    "sd": "--sd",
    "times": "--times",
    "baseline_rows": "--baseline-rows",
    "tolerance": "--tolerance",
    "group": "--group",
    "repeats": "--repeats",
    "came_from": "--came-from",
}
# What is wished of a chart, and the kinds that heed it.
_WISHES = {"once_in": ("ewma", "cusum", "wide"), "shift": ("ewma", "cusum"), "within": ("ewma", "cusum")}
_OF_PLANTS = {"last": "--last", "since": "--from", "until": "--to", "beside": "--with"}


def overview(args: Namespace) -> int:
    """The state of every property."""
    with opened(args, reads=True) as lab:
        facts = charting.overview(lab)
    return show(args, facts, chart_text.overview_lines(facts, lab.zone))


def chart(args: Namespace) -> int:
    """One control chart: words first, then the picture; or two properties against each other."""
    _nothing_idle(args)
    if args.against:
        return _relation(args)
    wish = _wish(args)
    if args.csv:
        return _shown(args, _of_table(args, wish), UTC)
    with opened(args, reads=True) as lab:
        since = local_time(lab, args.since) if args.since else None
        until = local_time(lab, args.until) if args.until else None
        _check_period(args, since, until)
        facts = charting.chart(
            lab,
            _name(args),
            last=args.last or SHOWN,
            kind=args.kind,
            design=wish,
            since=since,
            until=until,
            spread=args.spread,
        )
        if (since or until) and not facts.points:
            raise impossible("period", f"holds no test of {facts.label}", "choose another --from or --to")
        both = None
        if args.beside:
            start = facts.points[0].at if facts.points else since
            other = charting.chart(lab, args.beside, since=start, until=until)
            both = relating.beside(lab, facts, other)
        zone, mark = lab.zone, lab.mark
    return _shown(args, facts, zone, mark=mark, both=both)


def _check_period(args: Namespace, since: datetime | None, until: datetime | None) -> None:
    """Raise for a period that is none, and for the set together, of which only the newest are judged."""
    if args.property == together.NAME and (since or until):
        raise impossible("period", "is not heeded by the hourly set together", "give --last N samples")
    if problems := Period(since, until).problems():
        raise InputError(problems)


def _wish(args: Namespace) -> Design:
    """What the chart is asked for; raises InputError for figures that it would not heed."""
    several = bool(args.csv) and len(names_of(args)) > 1
    as_one = several or args.property == together.NAME
    asked = {name: getattr(args, name) for name in _WISHES if getattr(args, name) is not None}
    idle = [name for name in asked if as_one or args.kind not in _WISHES[name]]
    if idle:
        what = "of several properties together" if as_one else f"of kind {args.kind}"
        do = "leave it out, or chart one property" if as_one else "add --kind ewma or --kind cusum"
        raise InputError(
            [Problem(f"--{name.replace('_', '-')}", f"a chart {what} has none", do) for name in idle]
        )
    wish = Design(
        **asked,
        weight=args.weight,
        limit_width=args.limit_width,
        reference=args.reference,
        decision=args.decision,
    )
    wish.check(args.kind, together=as_one)
    return wish


def _of_table(args: Namespace, wish: Design) -> ChartFacts:
    """The chart of one column, of its subgroups, or of several columns judged together."""
    column, names = column_of(args), names_of(args)
    if len(names) > 1:
        return column_sets.set_chart(column, names, kind=args.kind, weight=wish.weight)
    if args.kind == "subgroup":
        return grouped.grouped_chart(column, spread=args.spread, repeats=args.repeats)
    return column_charts.column_chart(column, kind=args.kind, design=wish)


def _shown(
    args: Namespace, facts: ChartFacts, zone: tzinfo, *, mark: str = ".", both: BesideFacts | None = None
) -> int:
    """Words, picture and signals, or the facts as JSON; a second property below the first."""
    words, *rest = chart_text.chart_lines(facts, zone, mark=mark)
    found = [charting.picture(facts, mark=mark), picturing.spread_picture(facts, mark=mark)]
    found += [] if both is None else [charting.picture(both.beside, mark=mark)]
    shapes = [one for one in found if one is not None]
    drawing = [] if args.json or not facts.points else _drawing(args, facts, shapes, zone)
    if args.svg:
        _write(args.svg, stacked_svg(shapes, zone=zone))
    if both is None:
        return show(args, facts, [words, *drawing, *rest])
    others = [chart_text.words_of(both.beside), both.relation.words if both.relation else ""]
    return show(args, both, [words, *filter(None, others), *drawing, *rest])


def _relation(args: Namespace) -> int:
    """Two properties against each other: words, picture, where the line comes from."""
    if args.csv or args.beside:
        raise impossible("against", "needs two properties of the plant", "leave out --csv and --with")
    with opened(args, reads=True) as lab:
        facts = relating.relation(lab, _name(args), args.against)
        shapes = relating.scatter(facts, mark=lab.mark)
    if args.svg:
        _write(args.svg, scatter_svg(shapes))
    frame = scatter_cells(shapes, width=args.width, height=args.height, glyphs=args.glyphs)
    drawing = frame.text().splitlines() if facts.pairs else []
    return show(args, facts, [facts.words, *drawing, facts.origin])


def _write(name: str, text: str) -> None:
    """Write a picture; raises InputError where that cannot be."""
    try:
        Path(name).write_text(text, encoding="utf-8")
    except OSError as error:
        raise impossible(name, f"cannot be written ({error.strerror})", "name a file you may write") from None


def _drawing(args: Namespace, facts: ChartFacts, shapes: Sequence[ChartPicture], zone: tzinfo) -> list[str]:
    """The picture as lines; tests without times are counted along the bottom."""
    height = args.height * len(shapes)
    frame = stacked_cells(shapes, width=args.width, height=height, zone=zone, glyphs=args.glyphs)
    lines = frame.text().splitlines()
    if facts.points[0].at is None:
        first, last = facts.points[0].sample, facts.points[-1].sample
        lines[0] = shapes[0].heading()
        lines[-1] = f"{first}{last:>{max(1, args.width - len(first))}}"
    return lines


def leave_out(args: Namespace) -> int:
    """Leave a test out of limits, or let it count again."""
    verb = leaving.take_in if args.again else leaving.leave_out
    with opened(args) as lab:
        facts = verb(lab, args.property, sample=args.sample, by=args.by, reason=args.reason)
    words = "counts again" if args.again else "is left out of limits frozen from now on"
    return show(args, facts, [f"{args.property} of sample {facts.sample} {words}."])


def figures_of(args: Namespace) -> int:
    """The figures behind a chart."""
    _nothing_idle(args)
    if args.csv:
        if len(names_of(args)) > 1:
            raise impossible("column", "figures are of one column", "name one; a chart takes several")
        facts = column_charts.column_figures(column_of(args))
    else:
        with opened(args, reads=True) as lab:
            facts = figures.figures(lab, _name(args))
    return show(args, facts, chart_text.figures_lines(facts))


def propose(args: Namespace) -> int:
    """A window for new limits, and what would leave it."""
    with opened(args, reads=True) as lab:
        facts = phase.propose(
            lab,
            args.property,
            window_from=local_time(lab, args.window_from) if args.window_from else None,
            window_to=local_time(lab, args.window_to) if args.window_to else None,
        )
    return show(args, facts, facts.words.split("\n"))


def freeze(args: Namespace) -> int:
    """Freeze chart limits from a window, or as proposed."""
    with opened(args) as lab:
        excluded: dict[str, str] = {}
        if args.proposed:
            proposal = phase.propose(lab, args.property)
            window_from, window_to = proposal.window_from, proposal.window_to
            excluded = phase.leaving(proposal)
        elif args.window_from and args.window_to:
            window_from, window_to = local_time(lab, args.window_from), local_time(lab, args.window_to)
        else:
            do = "give --from and --to, or --proposed (sandlab propose shows it)"
            raise impossible("window", "is not given", do)
        excluded |= dict.fromkeys(args.leave_out, args.reason)
        facts = charting.freeze_baseline(
            lab,
            args.property,
            window_from=window_from,
            window_to=window_to,
            by=args.by,
            reason=args.reason,
            excluded=excluded,
        )
    words = f"Frozen from {facts.count} tests: {facts.lower:.3f} / {facts.centre:.3f} / {facts.upper:.3f}"
    count = len(facts.excluded)
    left_out = [f"{count} test{'s' if count > 1 else ''} left out."] if count else []
    return show(args, facts, [words, *left_out])


def _nothing_idle(args: Namespace) -> None:
    """Refuse options that this chart would not heed, all at once."""
    idle, do = (_OF_PLANTS, "leave it out beside --csv") if args.csv else (_OF_TABLES, "add --csv FILE")
    what = "is of a property of the plant" if args.csv else "is of a table"
    given = [option for name, option in idle.items() if _is_given(getattr(args, name, None))]
    if given and not (args.csv and getattr(args, "against", None)):
        raise InputError([Problem(option, what, do) for option in given])


def _is_given(value: object) -> bool:
    """Whether an option was given; a known centre of 0 is."""
    return value is not None and value is not False and value not in ("", [])


def _name(args: Namespace) -> str:
    if not args.property:
        raise impossible("chart", "of what is not said", "name a property, or give --csv and --column")
    return str(args.property)
