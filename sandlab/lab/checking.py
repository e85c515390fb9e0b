"""Checking the spec files of a plant: their own models, and the functions that the methods name."""

from __future__ import annotations

from pathlib import Path

from sandlab import methods
from sandlab.errors import InputError, Problem, SpecsError, nearest
from sandlab.lab.facts import CheckFacts, ProblemFacts
from sandlab.specs import Specs


def check(folder: Path) -> CheckFacts:
    """Every problem of a plant's spec files at once."""
    from sandlab.lab.opening import checked_specs

    problems: tuple[Problem, ...] = ()
    if not folder.is_dir():
        what = "is not a folder" if folder.exists() else "does not exist"
        problems = (Problem(str(folder), what, "name the plant's folder; the first record makes it"),)
    try:
        problems += tuple(balance_problems(checked_specs(folder)))
    except SpecsError as error:
        problems += error.problems
    found = tuple(ProblemFacts(where=p.where, what=p.what, do=p.do) for p in problems)
    return CheckFacts(folder=str(folder), ok=not found, problems=found)


def balance_problems(specs: Specs) -> list[Problem]:
    """What keeps the balance from advising: no assay, limits that contradict, targets that cannot be."""
    from sandlab.balance.events import check_plant
    from sandlab.lab.learning import model_of

    problems = []
    for key, sand in specs.systems.items():
        try:
            if sand.feeders:
                check_plant(model_of(specs, key))
        except InputError as error:
            problems += [Problem(f"systems.{key}, {p.where}", p.what, p.do) for p in error.problems]
    return problems


def method_problems(specs: Specs) -> list[Problem]:
    """Methods whose function, readings or constants do not fit the function they name."""
    return [
        Problem(f"methods.toml [{key}] {problem.where}", problem.what, problem.do)
        for key, method in specs.methods.items()
        for problem in methods.name_problems(
            method.function, [*method.readings, *method.derived_from], method.constants
        )
    ]


def instrument_problems(specs: Specs) -> list[Problem]:
    """Instruments whose lines name what nobody knows."""
    if not specs.instruments:
        return []
    from sandlab.exchange.instruments import pattern_problems

    return list(pattern_problems(specs))


def rule_problems(specs: Specs) -> list[Problem]:
    """Rules of a property that no chart knows."""
    used = {key: entry.rules for key, entry in specs.properties.items() if entry.rules}
    if not used:
        return []
    # Imported here: most plants name no rules, and opening one needs no charts.
    from sandlab.charts import RULES

    return [
        Problem(f"properties.toml [{key}] rules", f"'{rule}' is not a rule", nearest(rule, tuple(RULES)))
        for key, rules in used.items()
        for rule in rules
        if rule not in RULES
    ]
