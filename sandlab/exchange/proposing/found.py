"""What is found while a mapping is made: sheets, guesses, questions, forms of dates and times."""

from __future__ import annotations

from dataclasses import dataclass, field

from sandlab.exchange.mapping import SheetMap
from sandlab.exchange.proposing.meaning import Meaning

SURE, LIKELY = 0.85, 0.65


@dataclass(frozen=True, slots=True)
class Guess:
    """What one column is taken for; an empty `means` is a column that is not used."""

    sheet: str
    column: str
    head: str
    means: str
    confidence: float
    reason: str

    @property
    def word(self) -> str:
        """How sure it is, in a word."""
        if not self.means:
            return "not used"
        return "sure" if self.confidence >= SURE else "likely" if self.confidence >= LIKELY else "look"


@dataclass(frozen=True, slots=True)
class Question:
    """What only a person can settle: where, what, and what to do about it in the mapping."""

    where: str
    what: str
    do: str


@dataclass(slots=True)
class Found:
    """What is collected over all sheets."""

    sheets: dict[str, SheetMap] = field(default_factory=dict)
    guesses: list[Guess] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    dates: list[str] = field(default_factory=list)
    times: list[str] = field(default_factory=list)
    numbers: list[Meaning] = field(default_factory=list)
    points: dict[str, str] = field(default_factory=dict)
