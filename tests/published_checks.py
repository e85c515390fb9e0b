"""Published checks as data: how a table in tests/published/*.toml is read, run and judged.

Every check is a table keyed by its name:

    [moisture_10_of_50]
    function = "sandlab.methods.moisture.moisture"   # dotted path of any importable callable
    inputs = { moist_g = 50.0, dry_g = 40.0 }        # keyword arguments
    arrays = ["x"]               # optional: inputs handed over as float numpy arrays
    result = "value"             # optional path into the answer: attributes, keys, indices ("limits.0.upper")
    expected = "20"              # as printed; an array of strings; or a table of path -> printed
    source = "tjfs"              # key in specs/sources.toml
    place = "test 201"
    status = "published"         # optional: published (default), derived, memory
    slack = 0.01                 # optional, absolute; slack_relative for a share of the printed value
    because = "why the slack"    # required with a slack or a trap
    trap = true                  # optional: a recorded misprint, which must NOT come out; `exact` must

The tolerance is half of the last printed digit plus the slack, ends included.
"""

from __future__ import annotations

import importlib
import math
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
FOLDER = HERE / "published"
SOURCES = HERE.parent / "specs" / "sources.toml"
STATUSES = ("published", "derived", "memory")
ROUNDING = 1e-12  # binary rounding of a decimal that lies exactly on the edge of the tolerance

Printed = str | Sequence[str]


@dataclass(frozen=True, slots=True)
class Check:
    """One published value, or one printed table, and the call that has to reproduce it."""

    name: str
    function: str
    expected: Printed | Mapping[str, Printed]
    source: str
    place: str
    inputs: Mapping[str, Any] = field(default_factory=dict)
    arrays: Sequence[str] = ()
    result: str = ""
    status: str = "published"
    slack: float = 0.0
    slack_relative: float = 0.0
    because: str = ""
    trap: bool = False
    exact: str = ""


def load(folder: Path = FOLDER) -> list[Check]:
    """Every check in the folder, named file:table."""
    checks = []
    for path in sorted(folder.glob("*.toml")):
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
        checks += [parse(f"{path.stem}:{name}", table) for name, table in tables.items()]
    return checks


def parse(name: str, table: Mapping[str, Any]) -> Check:
    """The check of one table; refuses what could quietly weaken it."""
    known = {item.name for item in fields(Check)} - {"name"}
    unknown, missing = set(table) - known, {"function", "expected", "source", "place"} - set(table)
    if unknown or missing:
        raise ValueError(f"{name}: unknown {sorted(unknown)}, missing {sorted(missing)}")
    check = Check(name=name, **table)
    if check.status not in STATUSES:
        raise ValueError(f"{name}: status is one of {STATUSES}")
    needs_reason = check.slack != 0 or check.slack_relative != 0 or check.trap
    if needs_reason != bool(check.because):
        raise ValueError(f"{name}: a slack or a trap, and nothing else, carries a because")
    if check.trap != bool(check.exact) or (check.trap and not isinstance(check.expected, str)):
        raise ValueError(f"{name}: a trap has one printed value and the exact one; nothing else has an exact")
    return check


def sources() -> set[str]:
    """The keys of the bibliography."""
    return set(tomllib.loads(SOURCES.read_text(encoding="utf-8")))


def resolve(dotted: str) -> Callable[..., Any]:
    """The callable a dotted path names."""
    module, _, name = dotted.rpartition(".")
    found: Callable[..., Any] = getattr(importlib.import_module(module), name)
    return found


def pick(answer: Any, path: str) -> Any:
    """The part of an answer that a path names: attribute, key or index, step by step."""
    for step in filter(None, path.split(".")):
        if isinstance(answer, Mapping):
            answer = answer[step]
        elif step.lstrip("-").isdigit():
            answer = answer[int(step)]
        else:
            answer = getattr(answer, step)
    return answer


def call(check: Check) -> Any:
    """The answer of the checked function."""
    inputs = dict(check.inputs)
    if check.arrays:
        import numpy as np

        inputs |= {name: np.asarray(inputs[name], dtype=float) for name in check.arrays}
    return resolve(check.function)(**inputs)


def half_last_digit(printed: str) -> float:
    """Half a unit of the last printed digit."""
    try:
        exponent = Decimal(printed).as_tuple().exponent
    except InvalidOperation as error:
        raise ValueError(f"'{printed}' is not a printed number") from error
    if not isinstance(exponent, int):
        raise ValueError(f"'{printed}' is not a finite printed number")
    return 0.5 * float(Decimal(1).scaleb(exponent))


def agrees(computed: Any, printed: str, check: Check) -> bool:
    """Whether a computed number is the printed one, within its tolerance."""
    number, value = float(computed), float(printed)
    tolerance = half_last_digit(printed) + check.slack + check.slack_relative * abs(value)
    return math.isfinite(number) and abs(number - value) <= tolerance + ROUNDING * max(1.0, abs(value))


def faults(check: Check) -> list[str]:
    """What the computed answer gets wrong; empty when the check holds."""
    answer = call(check)
    if check.trap:
        computed = pick(answer, check.result)
        wrong = [] if agrees(computed, check.exact, check) else [f"{computed} is not {check.exact}"]
        return wrong + [f"{computed} repeats the misprint"] * agrees(computed, str(check.expected), check)
    table = check.expected if isinstance(check.expected, Mapping) else {"": check.expected}
    wrong = []
    for path, printed in table.items():
        full = ".".join(filter(None, (check.result, path)))
        wrong += compare(full, pick(answer, full), printed, check)
    return wrong


def compare(path: str, computed: Any, printed: Printed, check: Check) -> list[str]:
    """The differences between one computed value or column and its print."""
    if isinstance(printed, str):
        return (
            [] if agrees(computed, printed, check) else [f"{path or 'answer'}: {computed} is not {printed}"]
        )
    if len(computed) != len(printed):
        return [f"{path or 'answer'}: {len(computed)} values, {len(printed)} printed"]
    return [
        f"{path or 'answer'}[{i}]: {got} is not {want}"
        for i, (got, want) in enumerate(zip(computed, printed, strict=True))
        if not agrees(got, want, check)
    ]
