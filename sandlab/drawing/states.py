"""The one table of states: each has a word, a mark per glyph set, and a role.

A state is told by its word first, by its mark second and by its colour last, so it is safe without colour.
The marks follow one rule: the more a state wants the eye, the more ink it has.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sandlab.drawing.glyphs import GlyphSet
from sandlab.errors import nearest

Family = Literal["judgement", "chart", "muller", "due"]


@dataclass(frozen=True, slots=True)
class State:
    """One state as every screen, command and report shows it."""

    key: str
    family: Family
    word: str
    full: str
    console: str
    ascii: str
    role: str
    reason: str

    def glyph(self, glyphs: GlyphSet) -> str:
        """The state's mark, one cell wide."""
        return {"full": self.full, "console": self.console, "ascii": self.ascii}[glyphs]


_TABLE = (
    State("not_measured", "judgement", "not measured", "·", "·", "-", "muted",
          "next to no ink: nothing was asked of this cell"),
    State("in_tolerance", "judgement", "in tolerance", "•", "•", "o", "good",
          "a small dot, the value lying quietly on its scale"),
    State("outside_tolerance", "judgement", "outside tolerance", "!", "!", "!", "watch",
          "a call for attention, lighter than the stop square of a reaction limit"),
    State("doubtful", "judgement", "doubtful", "?", "?", "?", "watch",
          "the question the form asks: is this really what you read?"),
    State("impossible", "judgement", "impossible", "✗", "X", "X", "alarm",
          "struck out: this cannot have been measured"),
    State("in_control", "chart", "in control", "─", "─", "-", "good",
          "a level line, what the chart looks like from afar"),
    State("signal", "chart", "signal", "◆", "!", "!", "alarm",
          "a solid mark that points to no side: the words beside it say whether it went up or down"),
    State("past_reaction_limit", "chart", "past reaction limit", "■", "■", "#", "alarm",
          "the stop square: the muller screen shows the same one with HOLD"),
    State("no_baseline", "chart", "no baseline", "~", "~", "~", "muted",
          "no firm line: there are no limits to hold the points against"),
    State("too_few", "chart", "too few tests", "…", ":", ":", "muted",
          "a few dots: more tests must come first"),
    State("stale", "chart", "out of date", "○", "o", "o", "watch",
          "an empty ring: no fresh value is in it"),
    State("run", "muller", "RUN", "►", "▶", ">", "good",
          "the triangle of a running machine, as on its push buttons (IEC 60417)"),
    State("check", "muller", "CHECK", "║", "│", "|", "watch",
          "the bars of a pause (IEC 60417): look before the next batch"),
    State("hold", "muller", "HOLD", "■", "■", "#", "alarm",
          "the square of a stop (IEC 60417), the heaviest mark there is"),
    State("due", "due", "due", "○", "o", "o", "watch",
          "an empty ring waiting for its value"),
    State("overdue", "due", "overdue", "●", "■", "#", "alarm",
          "the ring run full: the heaviest mark of the list"),
    State("done", "due", "done", "✓", "+", "+", "good",
          "a tick, as on a paper sheet"),
)  # fmt: skip

STATES: dict[str, State] = {state.key: state for state in _TABLE}


def state(key: str) -> State:
    """The state of that key; a wrong key names the nearest one."""
    if key not in STATES:
        raise KeyError(f"no state '{key}': {nearest(key, tuple(STATES))}")
    return STATES[key]


def family(name: Family) -> tuple[State, ...]:
    """All states of one family, in the table's order."""
    return tuple(entry for entry in _TABLE if entry.family == name)
