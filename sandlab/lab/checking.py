"""Checking the spec files of a plant: their own models, and the functions that the methods name."""

from __future__ import annotations

from pathlib import Path

from sandlab import methods
from sandlab.errors import Problem, SpecsError
from sandlab.lab.facts import CheckFacts, ProblemFacts
from sandlab.specs import Specs


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
    return [
        Problem(f"methods.toml [{key}] {problem.where}", problem.what, problem.do)
        for key, method in specs.methods.items()
        for problem in methods.name_problems(
            method.function, [*method.readings, *method.derived_from], method.constants
        )
    ]
