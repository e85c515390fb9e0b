"""The names of charts of what the balance did not foresee: active_clay_innovation and its like."""

from __future__ import annotations

INNOVATION = "_innovation"


def innovation_of(property: str) -> str:
    """The chart of what the balance did not foresee of a property."""
    return f"{property}{INNOVATION}"


def foreseen_property(name: str) -> str:
    """The property whose innovations a chart's name means; empty for every other name."""
    return name.removesuffix(INNOVATION) if name.endswith(INNOVATION) else ""


def can_be_foreseen(property: str) -> bool:
    """Whether the balance foresees anything of a property."""
    # Imported here: naming a chart needs no balance.
    from sandlab.balance.innovations import FORESEEN

    return property in FORESEEN
