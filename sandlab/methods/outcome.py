"""What a method function gives back, and the checks its readings must pass."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sandlab.errors import InputError, Problem, nearest
from sandlab.quantities import DIMENSIONS


@dataclass(frozen=True, slots=True)
class Outcome:
    """A result in the catalogue's unit; each flag is a sentence saying why it is doubtful."""

    value: float
    flags: tuple[str, ...] = ()


def flagged(value: float, *flags: str) -> Outcome:
    """An outcome that carries those of the sentences that are not empty."""
    return Outcome(value, tuple(flag for flag in flags if flag))


def require(*found: Problem | None) -> None:
    """Raise one InputError that lists every problem found; nothing happens when there is none."""
    problems = tuple(problem for problem in found if problem is not None)
    if problems:
        raise InputError(problems)


def finite(name: str, value: float) -> Problem | None:
    """The problem with a value that is not a number."""
    if math.isfinite(value):
        return None
    return Problem(name, f"{value} is not a number", "enter a finite value")


def positive(name: str, value: float) -> Problem | None:
    """The problem with a value that has to be above zero."""
    if finite(name, value) or value > 0.0:
        return finite(name, value)
    return Problem(name, f"{value:g} is not above zero", "check the reading")


def not_negative(name: str, value: float) -> Problem | None:
    """The problem with a value that cannot be below zero."""
    if finite(name, value) or value >= 0.0:
        return finite(name, value)
    return Problem(name, f"{value:g} is below zero", "check the sign")


def not_above(name: str, value: float, limit_name: str, limit: float) -> Problem | None:
    """The problem with a value that exceeds another one; silent where either is not a number."""
    if not (value > limit):
        return None
    return Problem(name, f"{value:g} is above {limit_name} {limit:g}", "check for exchanged readings")


def unit_of(name: str, unit: str, dimension: str) -> Problem | None:
    """The problem with a unit that does not measure the dimension."""
    if unit in DIMENSIONS[dimension]:
        return None
    return Problem(name, f"'{unit}' is not a unit of {dimension}", nearest(unit, DIMENSIONS[dimension]))


def percentage(name: str, value: float) -> Problem | None:
    """The problem with a share that is not within 0 and 100 %."""
    return not_negative(name, value) or not_above(name, value, "the whole,", 100.0)
