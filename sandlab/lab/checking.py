"""Checking the spec files of a plant: their own models, and the functions that the methods name."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from pathlib import Path

from sandlab import methods
from sandlab.errors import Problem, SpecsError, nearest
from sandlab.lab.facts import CheckFacts, ProblemFacts
from sandlab.specs import Method, Specs


def check(folder: Path) -> CheckFacts:
    """Every problem of a plant's spec files at once."""
    from sandlab.lab.opening import checked_specs

    problems: tuple[Problem, ...] = ()
    try:
        checked_specs(folder)
    except SpecsError as error:
        problems = error.problems
    found = tuple(ProblemFacts(where=p.where, what=p.what, do=p.do) for p in problems)
    return CheckFacts(folder=str(folder), ok=not found, problems=found)


def method_problems(specs: Specs) -> list[Problem]:
    """Methods whose function, readings or constants do not fit the function they name."""
    return [problem for key, method in specs.methods.items() for problem in _fit(key, method)]


def _fit(key: str, method: Method) -> Iterator[Problem]:
    where = f"methods.toml [{key}]"
    function = methods.FUNCTIONS.get(method.function)
    if function is None:
        hint = nearest(method.function, list(methods.FUNCTIONS))
        yield Problem(f"{where} function", f"'{method.function}' is not known", hint)
        return
    parameters = inspect.signature(function).parameters
    given = [*method.readings, *method.derived_from, *method.constants]
    for name in given:
        if name not in parameters:
            yield Problem(
                f"{where}.{name}", f"is not used by '{method.function}'", nearest(name, list(parameters))
            )
    for name, parameter in parameters.items():
        if name not in given and parameter.default is inspect.Parameter.empty:
            yield Problem(where, f"'{name}' is missing", "add it to the readings or the constants")
