"""What a value means before and after it is saved: impossible, doubtful, past a limit, in tolerance."""

from __future__ import annotations

from sandlab.errors import InputError
from sandlab.lab.facts import FieldFacts, JudgementFacts, ValueState
from sandlab.lab.opening import Lab
from sandlab.lab.specs_then import target_of
from sandlab.quantities import format_number, parse_number
from sandlab.specs import Specs

Pair = tuple[float, float]


def judge(field: FieldFacts, text: str, *, mark: str = ".") -> JudgementFacts:
    """What a typed text means for a field, in words; touches no disk, so it can follow every key."""
    if not text.strip():
        return _said(field, "not_measured", None, "not measured")
    try:
        typed = parse_number(text, where=field.label)
    except InputError as error:
        problem = error.problems[0]
        return _said(field, "impossible", None, f"{problem.what}; {problem.do}")
    return judge_value(field, typed.value, mark=mark)


def judge_value(field: FieldFacts, value: float, *, mark: str = ".") -> JudgementFacts:
    """What a value in the display unit means for a field, in words."""

    def shown(number: float) -> str:
        return format_number(number, field.decimals, mark=mark)

    def between(pair: tuple[float, float]) -> str:
        return f"{shown(pair[0])} to {shown(pair[1])} {field.unit}".strip()

    state = _state(value, field.impossible, field.doubtful, field.reaction, field.tolerance)
    if state == "impossible":
        words = f"impossible: only {between(field.impossible)} can be measured"
    elif state == "doubtful":
        words = f"doubtful: usually {between(field.doubtful)}; repeat the test or confirm"
    elif state == "past_reaction_limit" and field.reaction:
        words = f"past the reaction limits {between(field.reaction)}: react at once"
    elif state == "outside_tolerance" and field.tolerance:
        side = "below" if value < field.tolerance[0] else "above"
        words = f"{side} tolerance {between(field.tolerance)}"
    else:
        words = "in tolerance" if field.tolerance else "plausible"
    if field.reaction and state == "doubtful" and outside(value, field.reaction):
        words += f"; past the reaction limits {between(field.reaction)}"
    return _said(field, state, value, words)


def stored_state(lab: Lab, key: str, value: float, *, then: Specs | None = None) -> ValueState:
    """The state of a stored value, in the catalogue's unit, by today's specs or those of `then`."""
    specs = then if then and key in then.properties else lab.specs
    entry, target = specs.properties[key], target_of(specs, lab.system, key)
    return _state(
        value,
        entry.impossible,
        entry.doubtful,
        target.reaction if target else None,
        (target.target - target.tolerance, target.target + target.tolerance) if target else None,
    )


def _state(
    value: float, impossible: Pair, doubtful: Pair, reaction: Pair | None, tolerance: Pair | None
) -> ValueState:
    """The gravest that holds."""
    if outside(value, impossible):
        return "impossible"
    if outside(value, doubtful):
        return "doubtful"
    if reaction and outside(value, reaction):
        return "past_reaction_limit"
    if tolerance and outside(value, tolerance):
        return "outside_tolerance"
    return "in_tolerance"


def outside(value: float, pair: tuple[float, float]) -> bool:
    """Whether a value is beyond two limits; one typed on a limit, which units may move by a digit, is not."""
    slack = 1e-9 * max(1.0, abs(pair[0]), abs(pair[1]))
    return not pair[0] - slack <= value <= pair[1] + slack


def _said(field: FieldFacts, state: ValueState, value: float | None, words: str) -> JudgementFacts:
    return JudgementFacts(
        property=field.property,
        state=state,
        value=value,
        words=words,
        needs_confirmation=state == "doubtful",
    )
