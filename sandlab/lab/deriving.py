"""From readings to results, from results to derived results, and an old result computed once more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sandlab import methods
from sandlab.errors import InputError, Problem, impossible
from sandlab.methods.repeats import combine
from sandlab.records import Reading, Result
from sandlab.specs import Method, Specs, from_canonical
from sandlab.store import Store


def result_from_readings(specs: Specs, method_key: str, repeats: Sequence[Mapping[str, float]]) -> Result:
    """The result of a method from the raw readings of one or more repeats; raises InputError."""
    method = specs.methods[method_key]
    outcomes = [methods.compute(method.function, dict(one), method.constants) for one in repeats]
    flags = [flag for outcome in outcomes for flag in outcome.flags]
    value = outcomes[0].value
    if method.repeats:
        rule = method.repeats
        combined = combine(
            [outcome.value for outcome in outcomes],
            rule=rule.rule,
            agree_within=rule.agree_within,
            relative=rule.relative,
            count=rule.count,
        )
        value, flags = combined.value, [*flags, *combined.flags]
    elif len(outcomes) > 1:
        raise impossible(method.label, "does not combine repeats", "enter one repeat, or add a repeats rule")
    readings = tuple(
        Reading(name=name, value=number, repeat=place)
        for place, one in enumerate(repeats, start=1)
        for name, number in one.items()
    )
    return Result(
        property=method.property,
        value=value,
        method=method_key,
        flags=tuple(dict.fromkeys(flags)),
        readings=readings,
    )


Derived = dict[tuple[str, tuple[float, ...]], Result | None]
"""What was derived before, by method and inputs: in a long import the same few come again and again."""


def derived(specs: Specs, results: Sequence[Result], *, before: Derived | None = None) -> tuple[Result, ...]:
    """Results that follow from others of the same sample: bond indices, ratios, differences.

    A property that was measured itself is not derived. Inputs without a value, or censored ones, derive
    nothing; inputs outside a formula's validity derive a flagged result or none at all.
    """
    known = {one.property: one for one in results if one.value is not None and not one.censored}
    found: dict[str, Result] = {}
    waiting = {key: method for key, method in specs.methods.items() if method.derived_from}
    progress = True
    while progress:
        progress = False
        for key, method in list(waiting.items()):
            if not _applies(method, known):
                continue
            del waiting[key]
            progress = True
            result = _derive(key, method, known, before) if method.property not in known else None
            if result is not None:
                known[method.property] = found[method.property] = result
    return tuple(found.values())


def _applies(method: Method, known: Mapping[str, Result]) -> bool:
    """Whether every input is there, obtained by a method that the formula holds for."""
    return all(
        source in known and known[source].method in method.from_methods.get(name, (known[source].method,))
        for name, source in method.derived_from.items()
    )


def _derive(key: str, method: Method, known: Mapping[str, Result], before: Derived | None) -> Result | None:
    inputs = {name: known[source].value or 0.0 for name, source in method.derived_from.items()}
    if before is None:
        return _computed(key, method, inputs)
    place = (key, tuple(inputs.values()))
    if place not in before:
        before[place] = _computed(key, method, inputs)
    return before[place]


def _computed(key: str, method: Method, inputs: Mapping[str, float]) -> Result | None:
    try:
        outcome = methods.compute(method.function, inputs, method.constants)
    except InputError:
        # Measured inputs can be such that an index does not exist; that is no error of the person typing.
        return None
    return Result(property=method.property, value=outcome.value, method=key, flags=outcome.flags)


def recompute(store: Store, sample: str, property: str, revision: int) -> float | None:
    """An old result computed again from its readings and the specs in force when it was saved.

    None when the value was typed as the instrument showed it, so that there is nothing to compute.
    """
    revisions = store.revisions(sample, property)
    rows = [row for row in revisions.iter_rows(named=True) if row["revision"] == revision]
    if not rows:
        raise InputError(Problem("sample", f"no {property} with revision {revision}", "look at the sheet"))
    row = rows[0]
    text = store.specs_text(row["specs_hash"])
    readings = store.readings(sample, property, revision)
    if text is None or not readings:
        return None
    repeats: dict[int, dict[str, float]] = {}
    for reading in readings:
        repeats.setdefault(reading.repeat, {})[reading.name] = reading.value
    return result_from_readings(from_canonical(text), row["method"], list(repeats.values())).value
