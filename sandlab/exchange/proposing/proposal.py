"""A whole file looked at: the mapping that fits it best, every guess with its reason, and open questions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sandlab.errors import ImportRefused, Problem
from sandlab.exchange.grid import Sheet
from sandlab.exchange.mapping import Mapping
from sandlab.exchange.proposing.found import Found, Guess, Question
from sandlab.exchange.proposing.numbers import absent_words, decimal_marks
from sandlab.exchange.proposing.sheet import SheetProposer
from sandlab.exchange.proposing.tables import find_table
from sandlab.exchange.targets import KINDS, targets
from sandlab.specs import Specs


@dataclass(frozen=True, slots=True)
class Proposal:
    """A mapping with the reasons for it."""

    file: str
    mapping: Mapping
    guesses: tuple[Guess, ...]
    questions: tuple[Question, ...]


def propose_mapping(file: str, sheets: Sequence[Sheet], specs: Specs, system: str, point: str) -> Proposal:
    """The mapping that fits the sheets best; raises ImportRefused when no heads say anything."""
    found = Found()
    known = {kind: targets(kind, specs, system) for kind in KINDS}
    phrases = frozenset(word for table in known.values() for one in table.values() for word in one.words)
    for sheet in sheets:
        table = find_table(sheet, phrases)
        if table is None:
            if any(any(cells) for cells in sheet.rows):
                what = "no row of heads was recognised: the sheet is left out"
                found.questions.append(Question(sheet.name, what, "map it by hand if it holds tests"))
        else:
            SheetProposer(table, known, found, specs, system).propose(is_text=sheet.name == file)
    if not found.sheets:
        what = "no sheet has heads that name a property beside a date"
        do = "write a mapping by hand: see sample_data/mapping.toml"
        raise ImportRefused(Problem(file, what, do))
    mapping = _mapping(found, system, point)
    return Proposal(file, mapping, tuple(found.guesses), tuple(found.questions))


def _mapping(found: Found, system: str, point: str) -> Mapping:
    numbers = [one.numbers for one in found.numbers]
    absent, others = absent_words(numbers)
    if others:
        shown = ", ".join(f"'{text}' ({count})" for text, count in others.most_common(6))
        what = f"texts among the numbers: {shown}"
        do = "add those that mean not measured to not_measured; the others are refused"
        found.questions.append(Question("values", what, do))
    cells = [cell for one in found.numbers for cell in one.heading.cells]
    marks, thousands = decimal_marks(cells)
    if thousands:
        what = "commas stand before three digits throughout, as those of thousands"
        found.questions.append(
            Question("values", what, 'add "," to decimal_marks if they are decimal commas')
        )
    return Mapping(
        system=system,
        point=point,
        dates=tuple(dict.fromkeys(found.dates)),
        times=tuple(dict.fromkeys(found.times)) or ("hour:minute",),
        decimal_marks=marks,
        not_measured=tuple(dict.fromkeys(("-", "n/a", *absent))),
        sampling_points=found.points,
        sheets=found.sheets,
    )
