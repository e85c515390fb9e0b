"""Calls a method function by name, after checking readings and constants against its signature."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache, lru_cache
from typing import Any

from sandlab.errors import InputError, Problem, impossible, nearest
from sandlab.methods.clay import afs_clay, methylene_blue_clay, methylene_blue_mixes, methylene_blue_uptake
from sandlab.methods.combustibles import fixed_carbon, inert_fines, loss_on_ignition, volatiles
from sandlab.methods.compactability import compactability
from sandlab.methods.density import bulk_density, specimen_weight
from sandlab.methods.indices import available_bond, dead_clay, working_bond
from sandlab.methods.moisture import moisture, moisture_in_dish
from sandlab.methods.mulling import moisture_compactability_ratio, mulling_efficiency, remulled_efficiency
from sandlab.methods.outcome import Outcome
from sandlab.methods.permeability import permeability, permeability_orifice
from sandlab.methods.sieve import fines, grain_fineness_number
from sandlab.methods.strength import (
    strength,
    strength_from_force,
    wet_tensile_from_force,
    wet_tensile_strength,
)
from sandlab.methods.temperature import sand_temperature
from sandlab.methods.toughness import friability, mould_hardness, shatter_index

Reading = float | Sequence[float]

FUNCTIONS: dict[str, Callable[..., Outcome]] = {
    function.__name__: function
    for function in (
        afs_clay,
        available_bond,
        bulk_density,
        compactability,
        dead_clay,
        fines,
        fixed_carbon,
        friability,
        grain_fineness_number,
        inert_fines,
        loss_on_ignition,
        methylene_blue_clay,
        methylene_blue_mixes,
        methylene_blue_uptake,
        moisture,
        moisture_compactability_ratio,
        moisture_in_dish,
        mould_hardness,
        mulling_efficiency,
        permeability,
        permeability_orifice,
        remulled_efficiency,
        sand_temperature,
        shatter_index,
        specimen_weight,
        strength,
        strength_from_force,
        volatiles,
        wet_tensile_from_force,
        wet_tensile_strength,
        working_bond,
    )
}


def compute(
    function: str, readings: Mapping[str, Reading], constants: Mapping[str, Any] | None = None
) -> Outcome:
    """The outcome of a method function; raises InputError listing every wrong name and value at once."""
    given = dict(constants or {})
    problems = list(_name_problems(function, tuple(readings), tuple(given)))
    problems += [problem for name, value in readings.items() for problem in _not_a_number(name, value)]
    problems += _wrong_kinds(function, given)
    if problems:
        raise InputError(problems)
    try:
        outcome = FUNCTIONS[function](**readings, **given)
    except (TypeError, KeyError, AttributeError) as error:
        what = f"a table among the constants has the wrong shape ({error})"
        raise impossible(function, what, "compare it with the shipped method") from error
    except (OverflowError, ZeroDivisionError) as error:
        raise impossible(function, "the readings give no finite result", "check the readings") from error
    if not math.isfinite(outcome.value):
        raise impossible(function, "the readings give no finite result", "check the readings")
    return outcome


def formula(function: str) -> str:
    """What a method function gives, its equation and each parameter with its unit, in one line."""
    text = inspect.getdoc(FUNCTIONS[function]) or ""
    return " ".join(text.partition("Shapes:")[0].split())


@lru_cache(maxsize=1000)
def _name_problems(function: str, readings: Iterable[str], constants: Iterable[str]) -> tuple[Problem, ...]:
    return tuple(name_problems(function, readings, constants))


def name_problems(function: str, readings: Iterable[str], constants: Iterable[str]) -> list[Problem]:
    """What does not fit between the names a method gives and the parameters its function takes."""
    if function not in FUNCTIONS:
        return [Problem("function", f"'{function}' is not known", nearest(function, list(FUNCTIONS)))]
    parameters = _parameters(function)
    named = [name for name, parameter in parameters.items() if parameter.kind is not parameter.VAR_KEYWORD]
    open_ended = len(named) < len(parameters)
    entered, fixed = set(readings), set(constants)
    problems = [
        Problem(name, "stands among the readings and among the constants", "keep one of them")
        for name in sorted(entered & fixed)
    ]
    problems += [
        Problem(name, f"{function} takes nothing of this name", nearest(name, named))
        for name in sorted((fixed if open_ended else entered | fixed) - set(named))
    ]
    problems += [
        Problem(name, f"{function} needs it", "enter it") for name in named if name not in entered | fixed
    ]
    return problems


@cache
def _parameters(function: str) -> Mapping[str, inspect.Parameter]:
    """The parameters of a function; an import asks a hundred thousand times."""
    return inspect.signature(FUNCTIONS[function]).parameters


def _not_a_number(name: str, value: Any) -> list[Problem]:
    """The problem with a reading that is neither a finite number nor a list of them."""
    several = isinstance(value, Sequence) and not isinstance(value, str)
    values = list(value) if isinstance(value, Sequence) and several else [value]
    if values and all(_is_number(item) and math.isfinite(item) for item in values):
        return []
    return [Problem(name, f"{value!r} is not a number", "enter a finite value")]


def _is_number(value: Any) -> bool:
    """Whether a value counts as a number; true and false do not."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def _wrong_kinds(function: str, constants: Mapping[str, Any]) -> list[Problem]:
    """Constants that are not of the kind the function's signature names."""
    if function not in FUNCTIONS or not constants:
        return []
    kinds = {
        "float": (_is_number, "a number"),
        "str": (lambda value: isinstance(value, str), "text in quotes"),
        "bool": (lambda value: isinstance(value, bool), "true or false"),
    }
    problems = []
    for name, parameter in _parameters(function).items():
        holds, kind = kinds.get(str(parameter.annotation), (lambda value: True, ""))
        if name in constants and not holds(constants[name]):
            problems.append(Problem(name, f"{constants[name]!r} is not {kind}", "correct the constant"))
    return problems
