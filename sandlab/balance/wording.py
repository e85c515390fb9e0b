"""Clauses of a recommendation's sentences: a change, a doubtful result, what is held and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sandlab.balance.answer import Addition
from sandlab.balance.evidence import age_words, words
from sandlab.balance.kalman import Doubt
from sandlab.balance.stream import HOUR_US, MINUTE_US
from sandlab.balance.voice import PLAINLY, Voice

# C: sand behaves inconsistently above the first, cannot be mulled alike above the second
HOT, TOO_HOT = 49.0, 71.0


def change_words(addition: Addition, voice: Voice = PLAINLY) -> str:
    """A change as a person says it: bentonite up 1 kg to 13 kg."""
    if addition.held:
        return f"{words(addition.feeder)} held at {voice.kg(addition.kg)}"
    if abs(addition.change_kg) < 1e-9:
        return f"{words(addition.feeder)} stays at {voice.kg(addition.kg)}"
    way = "up" if addition.change_kg > 0.0 else "down"
    return f"{words(addition.feeder)} {way} {voice.kg(abs(addition.change_kg))} to {voice.kg(addition.kg)}"


def brief_words(known: str, wanted: str, additions: Sequence[Addition]) -> str:
    """What moves for one property, shortly: active clay 7.94 % against 8.00 %: more bentonite."""
    moves = []
    for one in additions:
        if one.held:
            moves.append(f"{words(one.feeder)} held")
        elif abs(one.change_kg) > 1e-9:
            moves.append(f"{'more' if one.change_kg > 0.0 else 'less'} {words(one.feeder)}")
    return f"{known} against {wanted}: {', '.join(moves) or 'as set'}"


REPEAT_H = 12.0  # how long a doubtful result asks for its repeat
HOLD_H = 4.0  # how long it holds its feeder: a repeat takes an hour or two, and the sand may have changed


def fresh(doubt: Doubt, at_us: int) -> bool:
    """Whether a doubtful result still asks for its repeat."""
    return at_us - doubt.taken_us < REPEAT_H * HOUR_US


def doubt_words(doubt: Doubt, at_us: int, voice: Voice) -> str:
    """A doubtful result, how far out it is, and what to do."""
    age = age_words(max(0.0, (at_us - doubt.taken_us) / MINUTE_US))
    far = voice.number(abs(doubt.innovation), 1)
    result = f"{words(doubt.property)} {voice.of(doubt.property, doubt.value)}"
    return f"{result} taken {age} ago lies {far} sd from what was expected: repeat the test"


def hold_words(weak: Mapping[str, str]) -> str:
    """One sentence that says which feeders are held and why; empty when none is."""
    by_cause: dict[str, list[str]] = {}
    for feeder, cause in weak.items():
        if cause:
            by_cause.setdefault(cause, []).append(feeder)
    if not by_cause:
        return ""
    causes = [f"{' and '.join(feeders)}, because {cause}" for cause, feeders in by_cause.items()]
    return f"Hold {'; '.join(causes)}: test again before changing."
