"""Accepting plant values that a window of the history told: who, when, from which window and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime

from sandlab.balance.identify import STUDENT, identify
from sandlab.errors import InputError, Problem, impossible, nearest
from sandlab.lab.facts import AcceptedFacts, AcceptedValueFacts
from sandlab.lab.opening import Lab
from sandlab.quantities import format_number
from sandlab.records import PlantValues
from sandlab.store.rows import microseconds

# Value -> unit and the range outside which it cannot be; published wear factors lie well inside.
VALUES: Mapping[str, tuple[str, float, float]] = {
    "clay_wear_factor": ("kg per 100 kg metal and 1 %", 0.0, 5.0),
    "carbon_wear_factor": ("kg per 100 kg metal and 1 %", 0.0, 10.0),
    "core_retention": ("share", 0.0, 1.0),
    "bond": ("working bond over active clay", 0.01, 5.0),
    "carbon_source": ("% a cycle", -2.0, 2.0),
    "fines_source": ("% a cycle", -2.0, 2.0),
    "slope": ("points per 1 % moisture", 5.0, 100.0),
    "demand_constant": ("% moisture", -10.0, 10.0),
    "demand_clay": ("% moisture per 1 %", -2.0, 2.0),
    "demand_fines": ("% moisture per 1 %", -2.0, 2.0),
    "demand_carbon": ("% moisture per 1 %", -2.0, 2.0),
    "demand_temperature": ("% moisture per C", -0.2, 0.2),
    "demand_reference_temperature": ("C", 0.0, 100.0),
    "demand_compactability": ("%", 5.0, 95.0),
}
DEMAND = ("demand_constant", "demand_clay", "demand_compactability")


def accept(
    lab: Lab,
    *,
    window_from: datetime,
    window_to: datetime,
    by: str,
    reason: str,
    values: Mapping[str, float] | None = None,
    sd: Mapping[str, float] | None = None,
) -> AcceptedFacts:
    """Record plant values that the balance starts from afterwards; raises InputError with every problem.

    Without `values` those are accepted that the window identifies, with the sd of the fit. A value that is
    not named keeps the one in force.
    """
    if values is None:
        values, sd = identified(lab, window_from, window_to)
    problems = list(_problems(values, by, reason, window_from, window_to))
    if problems:
        raise InputError(problems)
    before = accepted(lab)
    kept, sds = (dict(before.values), dict(before.sd)) if before else ({}, {})
    for name in values:
        sds.pop(name, None)
    now = lab.now()
    record = PlantValues(
        id=lab.new_id(),
        system=lab.system,
        at=now,
        by=by.strip(),
        recorded_at=now,
        reason=reason.strip(),
        values=kept | dict(values),
        sd=sds | {name: one for name, one in (sd or {}).items() if name in values},
        window_from=window_from,
        window_to=window_to,
    )
    lab.store.save([record])
    return accepted_facts(lab, record, before)


def accepted(lab: Lab) -> PlantValues | None:
    """The plant values in force, None when nobody has accepted any."""
    found = lab.store.records(PlantValues, lab.system, last=1)
    return found[-1] if found else None


def identified(
    lab: Lab, window_from: datetime, window_to: datetime
) -> tuple[dict[str, float], dict[str, float]]:
    """Values and sd that a window identifies; raises InputError when it identifies none."""
    from sandlab.lab.learning import told

    recommender = told(lab, window_from, window_to).recommender
    found = identify(recommender.log, microseconds(window_from), microseconds(window_to))
    sure = [one for one in found.values if one.identified and one.name in VALUES]
    values = {one.name: one.value for one in sure}
    if found.demand is not None and any(
        one.identified and one.name == "demand_level" for one in found.values
    ):
        values |= {f"demand_{name}": value for name, value in asdict(found.demand).items()}
    if not values:
        raise impossible("plant values", "the window identifies none", "choose 20 to 30 working days")
    return values, {one.name: (one.high - one.low) / (2.0 * STUDENT) for one in sure}


def _problems(
    values: Mapping[str, float], by: str, reason: str, window_from: datetime, window_to: datetime
) -> list[Problem]:
    problems = []
    for name, value in values.items():
        if name not in VALUES:
            problems.append(
                Problem(name, "is not a value that the balance learns", nearest(name, list(VALUES)))
            )
            continue
        unit, low, high = VALUES[name]
        if not low <= value <= high:
            problems.append(Problem(name, f"{value:g} {unit} is impossible", f"give {low:g} to {high:g}"))
    lacking = [name for name in DEMAND if name not in values]
    if lacking and any(name.startswith("demand_") for name in values):
        problems.append(Problem(", ".join(lacking), "is missing", "give the moisture demand as a whole"))
    if not values:
        problems.append(Problem("plant values", "none is named", "write for example clay_wear_factor=0.31"))
    if not by.strip():
        problems.append(Problem("engineer", "no initials", "give your initials"))
    if not reason.strip():
        problems.append(Problem("reason", "is empty", "say why these values are accepted"))
    if window_to <= window_from:
        problems.append(Problem("window", "ends before it begins", "give the earlier time first"))
    return problems


def accepted_facts(lab: Lab, record: PlantValues, before: PlantValues | None) -> AcceptedFacts:
    """Accepted values beside those they replace."""
    loop = lab.sand.loop.model_dump()
    old = {name: value for name, value in loop.items() if name in VALUES} | dict(
        before.values if before else {}
    )
    return AcceptedFacts(
        at=record.at,
        by=record.by,
        reason=record.reason,
        window_from=record.window_from,
        window_to=record.window_to,
        values=tuple(
            AcceptedValueFacts(
                name=name,
                unit=VALUES[name][0],
                value=value,
                text=format_number(value, 3, mark=lab.mark),
                before=old.get(name),
                before_text=format_number(old.get(name), 3, mark=lab.mark),
            )
            for name, value in record.values.items()
            if name in VALUES
        ),
    )
