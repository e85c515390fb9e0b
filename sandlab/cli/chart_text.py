"""Facts about charts as plain lines, words first."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo

from sandlab.cli.text import moment
from sandlab.lab.facts import (
    BaselineFacts,
    ChartFacts,
    DrawnFacts,
    FiguresFacts,
    OverviewFacts,
    SignalFacts,
    SubgroupFacts,
)
from sandlab.quantities import format_number


def overview_lines(facts: OverviewFacts, zone: tzinfo) -> Iterator[str]:
    """The state of every property, what needs attention first."""
    for one in facts.properties:
        value = f"{one.last_text} {one.unit}".strip()
        head = f"{one.state.replace('_', ' '):20} {one.label:28} {value:>12}"
        # How often all charts are wrong is said once, below.
        words = one.words.removesuffix(f"; {facts.wrong}.") if facts.wrong else one.words
        yield f"{head}  {moment(one.last_at, zone)}  {words.rstrip('.')}."
    if facts.wrong:
        yield f"When nothing is wrong: {facts.wrong}."


def words_of(facts: ChartFacts | FiguresFacts) -> str:
    """The words, with the name before them where they do not begin with it."""
    return facts.words if facts.words.startswith(facts.label) else f"{facts.label}: {facts.words}"


def chart_lines(facts: ChartFacts, zone: tzinfo, *, mark: str) -> Iterator[str]:
    """The words of a chart: state, kind, limits, signals, events."""
    yield words_of(facts)
    if facts.change is not None:
        yield f"{facts.change.sure[0].upper()}{facts.change.sure[1:]}."
    if facts.forecast is not None:
        yield facts.forecast.words
    if facts.kind_words:
        yield facts.kind_words
    if facts.drawn is not None and facts.drawn.design != facts.kind_words:
        yield facts.drawn.design
    if facts.subgroup is not None and facts.drawn is not None:
        yield from subgroup_lines(facts.drawn, facts.subgroup, mark=mark)
    if facts.baseline is not None:
        yield from baseline_lines(facts, facts.baseline, zone, mark=mark)
    if facts.proposal:
        yield facts.proposal
    yield from signal_lines(facts, zone)
    for event in facts.events:
        yield f"note   {moment(event.at, zone)}  {event.text} ({event.by})"


def signal_lines(facts: ChartFacts, zone: tzinfo) -> Iterator[str]:
    """Every alarm; a pattern that is only shown has one line for as long as it goes on."""
    spells: list[list[SignalFacts]] = []
    open_spells: dict[tuple[str, str], list[SignalFacts]] = {}
    for one in facts.signals:
        spell = open_spells.get((one.rule, one.side))
        if spell is not None and not one.alarm and one.index == spell[-1].index + 1:
            spell.append(one)
        else:
            open_spells[one.rule, one.side] = [one]
            spells.append(open_spells[one.rule, one.side])

    def named(one: SignalFacts) -> str:
        return moment(one.at, zone) if one.at else facts.points[one.index].sample

    for spell in spells:
        first, last = spell[0], spell[-1]
        span = named(first) if len(spell) == 1 else f"{named(first)} to {named(last)}, {len(spell)} tests:"
        yield f"{'ALARM' if last.alarm else 'shown'}  {span}  {last.reason}"


def subgroup_lines(means: DrawnFacts, facts: SubgroupFacts, *, mark: str) -> Iterator[str]:
    """The limits of means and of spread, and what is to be said about them."""
    for name, drawn in (("Means", means), ("Spread", facts.spread)):
        ends = (one for one in (drawn.lower, drawn.centre, drawn.upper) if one is not None)
        level = " / ".join(format_number(one, drawn.decimals + 1, mark=mark) for one in ends)
        yield f"{name}: limits {level} {drawn.unit}".rstrip()
    yield from facts.warnings


def baseline_lines(facts: ChartFacts, baseline: BaselineFacts, zone: tzinfo, *, mark: str) -> Iterator[str]:
    """The limits, who froze them from what, and the spread behind them."""
    low, centre, high = (
        format_number(value, facts.decimals + 1, mark=mark)
        for value in (baseline.lower, baseline.centre, baseline.upper)
    )
    who = (
        f", frozen by {baseline.frozen_by} on {moment(baseline.frozen_at, zone)}"
        if baseline.frozen_by
        else ""
    )
    left_out = f", {len(baseline.excluded)} left out" if baseline.excluded else ""
    unit = f" {facts.unit}" if facts.unit else ""
    if not baseline.count:
        yield f"Limits {low} / {centre} / {high}{unit}: {baseline.reason}"
        return
    origin = f"from {baseline.count} tests{left_out}: {baseline.reason}"
    yield f"Limits {low} / {centre} / {high}{unit}{who} {origin}"
    spread, ranges = (
        format_number(value, facts.decimals + 2, mark=mark)
        for value in (baseline.sigma, baseline.sigma_moving_range)
    )
    lag1 = f"lag-1 autocorrelation {format_number(baseline.lag1, 2, mark=mark)}"
    yield f"Standard deviation {spread} (from moving ranges {ranges}), {lag1}"


def figures_lines(facts: FiguresFacts) -> Iterator[str]:
    """Every figure under its heading."""
    yield words_of(facts)
    for section in facts.sections:
        yield ""
        yield section.title
        yield from (f"  {line}" for line in section.lines)
