"""Facts about the balance as plain lines, words first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import tzinfo

from sandlab.cli.text import moment
from sandlab.drawing import GlyphSet, band_cells, flow_cells
from sandlab.lab.estimates import band_picture
from sandlab.lab.facts import (
    BooksFacts,
    EstimateFacts,
    IdentificationFacts,
    SandBalanceFacts,
    SandForecastFacts,
)
from sandlab.lab.flowing import flow_picture
from sandlab.quantities import format_number

CHART_ROWS = 12


def balance_lines(
    facts: SandBalanceFacts, zone: tzinfo, *, width: int = 80, glyphs: GlyphSet = "full"
) -> Iterator[str]:
    """What matters today, the flow, the state with its bands, the recommendation's parts."""
    yield facts.words
    if facts.flow is not None:
        picture = flow_picture(facts.flow)
        yield ""
        yield facts.flow.words
        yield from flow_cells(picture, width=width, height=picture.rows, glyphs=glyphs).text().splitlines()
    yield ""
    yield "Prepared sand, with its 90 % band"
    yield from (_estimate(one) for one in facts.prepared)
    yield "Return sand at the muller"
    yield from (_estimate(one) for one in facts.returned)
    yield "What changes slowly"
    yield from (_estimate(one) for one in facts.slow)
    yield ""
    yield facts.advice_words
    for one in facts.doses:
        yield f"  {one.addition.label.partition(',')[0]:<16} {one.addition.text:>7} kg = {one.words}"
    yield from (f"- {flag}" for flag in facts.flags)
    yield f"Last batch {moment(facts.last_batch_at, zone)}"


def _estimate(one: EstimateFacts) -> str:
    return f"  {one.label:<38} {one.text:<26} {one.unit:<15} {one.words}".rstrip()


def forecast_lines(
    facts: SandForecastFacts, zone: tzinfo, *, mark: str = ".", width: int = 80, glyphs: GlyphSet = "full"
) -> Iterator[str]:
    """What will be, first in words, then as pictures and figures."""
    yield facts.words
    yield facts.cost_words
    ratio, core = (
        format_number(value, places, mark=mark)
        for value, places in ((facts.sand_to_metal, 2), (facts.core_sand_t_per_t, 3))
    )
    hours = format_number(facts.running_h, 0, mark=mark)
    yield f"Jobs {facts.job}: sand to metal {ratio}, core sand {core} t/t; {hours} h of running"
    settings = ", ".join(f"{one.label} {one.text} kg" for one in facts.settings)
    yield f"A batch gets {settings}"
    yield ""
    for one in facts.courses:
        yield f"  {one.label:<20} {one.words}"
    for one in facts.courses:
        if one.target is not None:
            picture = band_picture(one, mark=mark)
            frame = band_cells(picture, width=width, height=CHART_ROWS, zone=zone, glyphs=glyphs)
            yield ""
            yield from frame.text().splitlines()
    yield ""
    yield "In the long run"
    yield from (f"  {one.label:<20} {one.words}" for one in facts.settling)
    if facts.new_sand is not None:
        yield facts.new_sand.words


def identify_lines(facts: IdentificationFacts, zone: tzinfo) -> Iterator[str]:
    """What the window says, value by value, and what it cannot say."""
    yield facts.words
    yield f"{moment(facts.window_from, zone)} to {moment(facts.window_to, zone)}"
    for one in facts.values:
        yield f"  {one.label:<38} {one.text:<24} {one.unit:<15} {one.words}".rstrip()
    yield from facts.remarks
    if facts.acceptable:
        yield "A person accepts plant values with a reason; nothing has been changed."


def books_lines(facts: BooksFacts, mark: str = ".") -> Iterator[str]:
    """Whether the books close, each account, what was used per t of metal."""

    def kg(value: float) -> str:
        return format_number(value, 0, mark=mark)

    yield facts.words
    yield from facts.findings
    for account in facts.accounts:
        yield ""
        yield account.words
        yield from _account_lines(
            [
                *(("in", name, kg(value)) for name, value in account.brought.items()),
                *([("in", "formed in the mould", kg(account.formed_kg))] if account.formed_kg else []),
                ("out", "burned", kg(account.burned_kg)),
                ("out", "dust", kg(account.dust_kg)),
                ("out", "carried out", kg(account.left_kg)),
                ("stock", "gained", kg(account.gained_kg)),
                ("", "left over", kg(account.closing_kg)),
            ]
        )
    yield ""
    yield "Additives, kg per t of metal"
    for used in facts.used:
        yield f"  {used.label:<20} {used.text:>8}   {kg(used.kg):>8} kg in all"


def _account_lines(rows: Iterable[tuple[str, str, str]]) -> Iterator[str]:
    for side, name, text in rows:
        yield f"  {side:<6} {name:<20} {text:>9} kg"
