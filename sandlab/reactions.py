"""Which steps of the reaction plan are due: from the newest results and chart alarms, nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sandlab.specs import Reaction, Target


@dataclass(frozen=True, slots=True)
class Triggered:
    """One property that asks for a reaction: which, why, how far, and the plan's answer to it.

    `key` is empty when the plan has no entry for it; past a reaction limit the line holds all the same.
    """

    key: str
    property: str
    signal: str
    value: float
    limit: float
    steps: tuple[str, ...]
    who: str
    within_min: int
    hold: bool
    call: str


NO_ENTRY = Reaction(
    property="",
    signal="past_reaction_low",
    steps=("Repeat the test on a fresh sample",),
    who="technician",
    within_min=15,
    hold=True,
)


def past_reaction(value: float, target: Target) -> str:
    """`past_reaction_low`, `past_reaction_high`, or empty when the value is inside the reaction limits.

    A mean of readings that stands on a limit may miss it by the last binary digit; that is not past it.
    """
    low, high = target.reaction
    slack = 1e-9 * max(1.0, abs(low), abs(high))
    if value < low - slack:
        return "past_reaction_low"
    return "past_reaction_high" if value > high + slack else ""


def triggered(
    reactions: Mapping[str, Reaction],
    targets: Mapping[str, Target],
    *,
    newest: Mapping[str, float],
    alarms: Mapping[str, str],
) -> tuple[Triggered, ...]:
    """Reactions due for the newest value of each property and for its chart alarm ("up" or "down")."""
    found: list[Triggered] = []
    for name, value in newest.items():
        if name in targets and (signal := past_reaction(value, targets[name])):
            limit = targets[name].reaction[0 if signal.endswith("low") else 1]
            key, entry = plan_entry(reactions, name, signal)
            found.append(_triggered(key, entry, name, signal, value, limit))
    for name, side in alarms.items():
        signal = "above_limit" if side == "up" else "below_limit"
        key, entry = plan_entry(reactions, name, signal)
        if key:
            found.append(_triggered(key, entry, name, signal, newest.get(name, 0.0), 0.0))
    return tuple(found)


def plan_entry(reactions: Mapping[str, Reaction], property: str, signal: str) -> tuple[str, Reaction]:
    """The plan's entry for a signal with its key; a general one without a key where the plan has none."""
    for key, reaction in reactions.items():
        if reaction.property == property and reaction.signal == signal:
            return key, reaction
    return "", NO_ENTRY


def _triggered(
    key: str, entry: Reaction, property: str, signal: str, value: float, limit: float
) -> Triggered:
    # Past a reaction limit the line always holds, whatever the plan's entry says about chart signals.
    hold = entry.hold or signal.startswith("past_reaction")
    return Triggered(
        key, property, signal, value, limit, entry.steps, entry.who, entry.within_min, hold, entry.call
    )
