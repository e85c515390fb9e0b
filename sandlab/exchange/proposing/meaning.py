"""What one column most likely means, how sure that is, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sandlab.exchange.proposing.dates import is_date, is_time
from sandlab.exchange.proposing.heads import ROLES, best_phrase
from sandlab.exchange.proposing.numbers import NO_NUMBERS, Numbers, likely_units, numbers_in, shares
from sandlab.exchange.proposing.tables import LEAST_LIKENESS, Heading
from sandlab.exchange.targets import Target
from sandlab.exchange.units import unit_in, units_like

# Guesses below this are not made; the column is named as unused.
LEAST_SURE = 0.5


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a column means: a role or a target, `confidence` from 0 to 1, the reason, doubts as questions.

    An empty `name` is a column of no known meaning.
    """

    heading: Heading
    name: str = ""
    target: Target | None = None
    unit: str = ""
    confidence: float = 0.0
    reason: str = ""
    question: tuple[str, str] | None = None
    numbers: Numbers = NO_NUMBERS


def meaning_of(heading: Heading, known: Mapping[str, Target]) -> Meaning:
    """The likeliest meaning of a column among the roles and the targets of its kind of sheet."""
    role = _as_role(heading)
    target = _as_target(heading, known)
    if role.confidence >= max(LEAST_SURE, target.confidence):
        return role
    if target.confidence >= LEAST_SURE:
        return target
    return Meaning(heading, question=target.question, reason=target.reason)


def _as_role(heading: Heading) -> Meaning:
    best = Meaning(heading)
    dates = _share(heading, is_date)
    times = _share(heading, is_time)
    for role, words in ROLES.items():
        like, _ = best_phrase(heading.head, words)
        if like < LEAST_LIKENESS:
            continue
        fit, because = like, f"headed '{heading.head}'"
        if role in ("date", "time"):
            # Weeks and averages stand in the column of dates too.
            name = "date" if dates >= 0.25 and dates >= times else "time" if times >= 0.25 else ""
            if not name:
                continue
            share = max(dates, times)
            role, fit, because = name, 0.6 * like + 0.4 * share, f"{because}, {share:.0%} are {name}s"
        if fit > best.confidence:
            best = Meaning(heading, role, confidence=fit, reason=because)
    if not best.name and heading.cells and dates >= 0.9:
        return Meaning(heading, "date", confidence=0.6, reason=f"{dates:.0%} of the cells are dates")
    return best


def _share(heading: Heading, fits: object) -> float:
    cells = heading.cells[:100]
    return sum(bool(fits(text)) for text in cells) / len(cells) if cells and callable(fits) else 0.0


def _as_target(heading: Heading, known: Mapping[str, Target]) -> Meaning:
    """The target that the head is most like, weighed by unit and values."""
    likes = sorted(((max(_likeness(heading, target)), name) for name, target in known.items()), reverse=True)
    if not likes or likes[0][0] < LEAST_LIKENESS:
        return Meaning(heading)
    judged = sorted(
        (_weighed(heading, known[name], like) for like, name in likes[:6] if like >= LEAST_LIKENESS),
        key=lambda one: -one.confidence,
    )
    best = judged[0]
    if len(judged) > 1 and judged[1].confidence > best.confidence - 0.03 and best.confidence >= LEAST_SURE:
        what = f"'{heading.head}' can be {best.name} or {judged[1].name}"
        return Meaning(heading, reason=what, question=(what, "map the one that it is"))
    return best


def _likeness(heading: Heading, target: Target) -> tuple[float, float]:
    """The likeness of the head alone, and together with the head that it shares with its neighbours."""
    alone, _ = best_phrase(heading.head, target.words)
    shared = 0.0
    if heading.group and heading.head:
        shared, _ = best_phrase(f"{heading.group} {heading.head}", target.words)
        # The shared head has to say something: "Early shift" beside "CB" says nothing about CB.
        shared = shared if shared >= 0.85 else 0.0
    return alone, shared


def _weighed(heading: Heading, target: Target, like: float) -> Meaning:
    because = f"headed '{heading.head}'"
    if target.form != "number":
        return Meaning(heading, target.name, target, confidence=like, reason=because)
    numbers = numbers_in(heading.cells)
    named = next((unit for text in heading.texts[::-1] if (unit := unit_in(text))), "")
    if named and named not in units_like(target.unit) and target.unit != "1":
        reason = f"{because}, but {named} is no unit of {target.label}"
        return Meaning(heading, target.name, target, confidence=0.4 * like, reason=reason, numbers=numbers)
    unit = named if named in units_like(target.unit) else target.unit
    question = None
    others = [] if named else likely_units(numbers.values, target)
    if others:
        unit, looks = others[0], " or ".join(others)
        what = f"no unit stands at '{heading.head}'; the values look like {looks}"
        question = (what, f'see which it is, and write unit = "{unit}" or the other beside the column')
    if len(others) > 1:
        reason = f"{because}, {question[0]}" if question else because
        return Meaning(heading, target.name, target, unit, 0.4 * like, reason, question, numbers)
    usual, possible = shares(numbers.values, unit, target)
    if not numbers.values:
        fit, values = 0.5, "no values"
    else:
        fit, values = usual, f"{usual:.0%} of the values are usual"
    because += f", {unit}" if named else ""
    confidence = 0.7 * like + 0.3 * fit - (0.1 if question else 0.0)
    if numbers.values and possible < 0.5:
        confidence *= 0.4
        values = f"{1 - possible:.0%} of the values are impossible in {unit}"
        what = f"'{heading.head}' names {target.label}, but {values}"
        question = (what, "see what the column holds, and map it with its unit")
    return Meaning(heading, target.name, target, unit, confidence, f"{because}, {values}", question, numbers)
