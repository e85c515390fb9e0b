"""A report's facts as pages: what stands where, in words and marks that survive black and white."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from sandlab.drawing import chart_svg, state
from sandlab.lab.facts import ChartFacts
from sandlab.lab.facts.report import (
    ReportAdditionFacts,
    ReportFacts,
    ReportReactionFacts,
    ReportResultFacts,
    ReportSignalFacts,
)
from sandlab.lab.opening import Lab
from sandlab.lab.picturing import picture
from sandlab.quantities import format_number
from sandlab.reporting.pages import Block, Document, Heading, Pictures, Row, Table, Words

SIDE_BY_SIDE = 2
WIDTH = 480
HEIGHTS = {"shift": 155, "month": 200}
MOST_EVENTS = 6
"""With more events on a chart their words would stand over each other; they are listed below anyway."""
MOST_LINES = 8
"""Lines of one list on a shift's page."""
_HEADS = (
    "Property",
    "Unit",
    "Tests",
    "Lowest",
    "Mean",
    "Highest",
    "Tolerance",
    "Outside",
    "Last",
    "at",
    "State",
)
_RESULT_WIDTHS = (125.3, 29.4, 28, 35, 28.8, 37.7, 56, 42.5, 28.8, 35.5, 80.3)
"""In points: heads and states stay whole at the full size of letters."""
LESSER = ("Tests", "Judged")
"""Sentences that begin so say how to read the others."""
_DOUBT = ("doubtful", "impossible")
CAUTION = "Advice to trained people under the site's rules."


def document(lab: Lab, facts: ReportFacts, charts: Mapping[str, ChartFacts]) -> Document:
    """The pages of a report."""
    month = facts.kind == "month"
    title = f"{facts.plant} - {'sand, monthly review' if month else 'sand, shift report'}"
    clock = f"{facts.made_at.astimezone(lab.zone):%Y-%m-%d %H:%M}"
    foot = f"{facts.system}. Made {clock} from the records; times are the plant's clock. {CAUTION}"
    blocks = [
        *(Words(one, strong=not one.startswith(LESSER)) for one in facts.words),
        *_results(lab, facts),
        *_signals(lab, facts, charts),
        *_reactions(lab, facts),
        *_additions(facts),
        *_listed("Handed over", [_note(lab, one.at, one.text, one.words) for one in facts.notes], facts),
        *_listed("Corrections", facts.corrections, facts),
        *_events(lab, facts),
        *_capability(lab, facts),
        *_books(facts),
        *_charts(lab, facts, charts),
    ]
    return Document(title, facts.name, foot, tuple(blocks), most_pages=None if month else 1)


def _results(lab: Lab, facts: ReportFacts) -> Iterator[Block]:
    if not facts.results:
        return
    yield Heading("Results against tolerance")
    month = facts.kind == "month"
    shown = [one for one in facts.results if month or one.aim or one.last_state in _DOUBT]
    rows = tuple(_result(lab, one, month=month) for one in shown)
    yield Table(_HEADS, rows, _RESULT_WIDTHS, numbers=(2, 3, 4, 5, 7, 8))
    rest = [_in_words(one) for one in facts.results if one not in shown]
    if rest:
        yield Words(f"Also tested: {'; '.join(rest)}.")


def _in_words(one: ReportResultFacts) -> str:
    span = one.mean_text if one.count == 1 else f"{one.low_text} to {one.high_text}"
    return f"{one.label} {span} {one.unit}".strip()


def _result(lab: Lab, one: ReportResultFacts, *, month: bool) -> Row:
    entry = state(one.last_state)
    shown = one.last_state if one.aim or one.last_state in _DOUBT else ""
    past = f" ({state('past_reaction_limit').full}{one.past})" if one.past else ""
    outside = f"{one.outside}{past}" if one.aim else ""
    at = f"{one.last_at.astimezone(lab.zone):{'%d %b' if month else '%H:%M'}}"
    cells = (
        one.label,
        one.unit,
        str(one.count),
        one.low_text,
        one.mean_text,
        one.high_text,
        one.aim,
        outside,
    )
    words = f"{entry.full} {entry.word}" if shown else ""
    return Row((*cells, one.last_text, at, words), strong=bool(one.past or one.outside))


def _signals(lab: Lab, facts: ReportFacts, charts: Mapping[str, ChartFacts]) -> Iterator[Block]:
    yield Heading("Alarms of the control charts, and what was written down about each")
    if not facts.signals:
        limited = any(one.baseline is not None for one in charts.values())
        yield Words("No chart alarmed." if limited else "No chart has limits yet, so none could alarm.")
        return
    aimed = {one.property for one in facts.results if one.aim}
    first = sorted(facts.signals, key=lambda one: one.property not in aimed)
    shown = facts.signals if facts.kind == "month" else tuple(first[:MOST_LINES])
    rows = tuple(_signal(lab, one, month=facts.kind == "month") for one in shown)
    yield Table(
        ("Since", "What", "Written down afterwards"), rows, (13 if facts.kind == "shift" else 19, 68, 50)
    )
    yield from _more(facts.signals, shown)


def _signal(lab: Lab, one: ReportSignalFacts, *, month: bool) -> Row:
    mark = state("signal").full
    pattern = "%d %b %H:%M" if month else "%H:%M"
    start = f"{mark} {one.at.astimezone(lab.zone):{pattern}}"
    times = f" ({one.count} to {one.until.astimezone(lab.zone):{pattern}})" if one.count > 1 else ""
    most = MOST_LINES if month else 3
    done = [*one.done[:most], *([f"and {len(one.done) - most} more"] if len(one.done) > most else [])]
    what = f"{one.label}: {one.reason}{times}"
    return Row((start, what, "; ".join(done) or "nothing written down"), not one.done)


def _reactions(lab: Lab, facts: ReportFacts) -> Iterator[Block]:
    if not facts.reactions:
        return
    yield Heading("Reaction plan: values past a limit, steps taken and open")
    shown = facts.reactions if facts.kind == "month" else facts.reactions[:MOST_LINES]
    rows = tuple(_reaction(lab, one, month=facts.kind == "month") for one in shown)
    yield Table(("Since", "Value", "Inside again", "Steps"), rows, (15, 35, 17, 64))
    yield from _more(facts.reactions, shown)


def _reaction(lab: Lab, one: ReportReactionFacts, *, month: bool) -> Row:
    pattern = "%d %b %H:%M" if month else "%H:%M"
    mark = state("past_reaction_limit").full
    back = f"{one.back_at.astimezone(lab.zone):{pattern}}" if one.back_at else "not yet"
    steps = []
    for step in one.steps:
        if step.done_at is None:
            steps.append(f"{state('due').full} {step.step}: not written down as done")
        else:
            found = f" ({step.found})" if step.found else ""
            when = f"{step.done_at.astimezone(lab.zone):{pattern}}"
            steps.append(f"{state('done').full} {step.step}: {step.done_by} {when}{found}")
    start = f"{mark} {one.at.astimezone(lab.zone):{pattern}}"
    return Row((start, one.what, back, "\n".join(steps)), one.open)


def _additions(facts: ReportFacts) -> Iterator[Block]:
    if not facts.additions and not facts.decisions:
        return
    yield Heading("Additions: recommended against made, kg per batch")
    rows = tuple(_addition(one) for one in facts.additions)
    if rows:
        heads = ("Material", "Recommended", "Set", "Made", "Made - recommended", "Batches", "Total kg")
        yield Table(heads, rows, (36, 17, 10, 10, 23, 11, 13), numbers=(1, 2, 3, 4, 5, 6))
    if any(one.recommended_kg is None for one in facts.additions):
        yield Words("Where nothing is recommended, batches were made before anything was released.")
    yield from _lines(facts.decisions, facts)


def _addition(one: ReportAdditionFacts) -> Row:
    kg = one.recommended_text, one.set_text, one.made_text, one.difference_text
    return Row((one.label, *kg, str(one.batches), one.total_text))


def _events(lab: Lab, facts: ReportFacts) -> Iterator[Block]:
    lines = [
        f"{one.at.astimezone(lab.zone):%d %b %H:%M}  {one.text} ({one.kind}, {one.by})"
        for one in facts.events
    ]
    yield from _listed("On the time line", lines, facts)


def _capability(lab: Lab, facts: ReportFacts) -> Iterator[Block]:
    if not facts.capability:
        return
    yield Heading("Fit to the tolerance")
    rows = tuple(
        Row(
            (
                one.label,
                str(one.count),
                f"{format_number(100 * one.outside, 1, mark=lab.mark)} %",
                format_number(one.cpk, 2, mark=lab.mark),
                format_number(one.ppk, 2, mark=lab.mark),
                " to ".join(format_number(end, 2, mark=lab.mark) for end in (one.ppk_low, one.ppk_high)),
            )
        )
        for one in facts.capability
    )
    heads = ("Property", "Tests", "Outside", "Cpk", "Ppk", "95 % interval of Ppk")
    yield Table(heads, rows, (40, 10, 12, 10, 10, 24), numbers=(1, 2, 3, 4, 5))


def _books(facts: ReportFacts) -> Iterator[Block]:
    books = facts.books
    if books is None:
        return
    yield Heading("Material books")
    yield Words(books.words)
    yield from (Words(one.words) for one in books.accounts)
    yield from (Words(one) for one in books.findings)
    if books.used and books.metal_t > 0.0:
        used = ", ".join(f"{one.label} {one.text}" for one in books.used)
        yield Words(f"Used, kg per t of metal: {used}.")


def _charts(lab: Lab, facts: ReportFacts, charts: Mapping[str, ChartFacts]) -> Iterator[Block]:
    if not facts.charts:
        return
    yield Heading("Charts" if facts.kind == "month" else "Charts of this shift and the two before")
    svgs = [_drawn(lab, charts[key], HEIGHTS[facts.kind]) for key in facts.charts]
    for start in range(0, len(svgs), SIDE_BY_SIDE):
        pair = svgs[start : start + SIDE_BY_SIDE]
        yield Pictures(tuple(pair), across=SIDE_BY_SIDE)


def _drawn(lab: Lab, facts: ChartFacts, height: int) -> str:
    """A chart with its alarms; shown patterns that do not alarm are left to the screen."""
    shapes = picture(facts, mark=lab.mark)
    flags = tuple(replace(flag, members=()) for flag in shapes.flags if flag.alarm)
    marks = shapes.events
    if len(marks) > MOST_EVENTS:
        marks = tuple(replace(one, label="") for one in marks)
    return chart_svg(replace(shapes, flags=flags, events=marks), zone=lab.zone, width=WIDTH, height=height)


def _note(lab: Lab, at: datetime, text: str, words: str) -> str:
    return f"{at.astimezone(lab.zone):%d %b %H:%M}  {text} ({words})"


def _listed(title: str, lines: Sequence[str], facts: ReportFacts) -> Iterator[Block]:
    if lines:
        yield Heading(title)
        yield from _lines(lines, facts)


def _lines(lines: Sequence[str], facts: ReportFacts) -> Iterator[Block]:
    shown = lines if facts.kind == "month" else lines[:MOST_LINES]
    yield from (Words(one) for one in shown)
    yield from _more(lines, shown)


def _more(every: Sequence[object], shown: Sequence[object]) -> Iterator[Block]:
    if len(shown) < len(every):
        yield Words(f"and {len(every) - len(shown)} more, see sandlab report")
