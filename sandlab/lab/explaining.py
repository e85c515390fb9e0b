"""How an old result came about: its readings, the formula and its source, the specs then, computed anew."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from sandlab.errors import impossible, nearest
from sandlab.lab.deriving import derived, recompute
from sandlab.lab.facts import ExplainedFacts, ExplanationFacts, InputFacts
from sandlab.lab.opening import Lab
from sandlab.lab.rounds import require_sample
from sandlab.lab.showing import clock_text, display_unit, shown_unit, text_of
from sandlab.lab.specs_then import specs_then, unchanged
from sandlab.quantities import format_number
from sandlab.records import Reading, Sample
from sandlab.specs import Method, Specs


def explain(lab: Lab, sample: str, property: str = "") -> ExplanationFacts:
    """One result of a sample explained, or all of them; raises InputError for names that are not there."""
    stored = require_sample(lab, sample)
    names = [one.property for one in stored.results]
    if property and property not in names:
        do = nearest(property, names) if names else "choose another sample"
        raise impossible(property, "has no value in that sample", do)
    wanted = [property] if property else [name for name in names if name in lab.specs.properties]
    return ExplanationFacts(
        sample=stored.id,
        taken_at=stored.at,
        point=stored.point,
        results=tuple(_explained(lab, stored, name) for name in wanted),
    )


def _explained(lab: Lab, stored: Sample, key: str) -> ExplainedFacts:
    row = lab.store.revisions(stored.id, key).row(-1, named=True)
    then = specs_then(lab, row["specs_hash"])
    method = then.methods.get(row["method"])
    readings = lab.store.readings(stored.id, key, row["revision"])
    again = _again(lab, stored, key, row, then)
    agrees = None if again is None else math.isclose(again, row["value"], rel_tol=1e-9, abs_tol=1e-12)
    same = unchanged(lab, row["specs_hash"])
    text = text_of(lab.specs, key, row["value"], censored=row["censored"])
    again_text = "" if again is None else text_of(lab.specs, key, again)
    return ExplainedFacts(
        property=key,
        label=lab.specs.properties[key].label,
        revision=row["revision"],
        text=text,
        unit=shown_unit(display_unit(lab.specs, key)),
        by=row["by"],
        recorded_at=row["recorded_at"],
        method=row["method"],
        method_label=method.label if method else "",
        formula=method.function if method else "",
        source=_source(then, method),
        constants=_constants(method.constants if method else {}),
        inputs=_inputs(lab, stored, method, readings),
        specs_hash=row["specs_hash"],
        specs_in_force=same,
        recomputed_text=again_text,
        agrees=agrees,
        words=_words(lab, row, text, again_text, agrees, same),
    )


def _again(lab: Lab, stored: Sample, key: str, row: Mapping[str, Any], then: Specs) -> float | None:
    """The value computed again, from readings or from the other results of the sample."""
    if row["method"] in then.methods and then.methods[row["method"]].derived_from:
        automatic = {name for name, method in then.methods.items() if method.derived_from}
        measured = [one for one in stored.results if one.method not in automatic]
        found = {one.property: one for one in derived(then, measured)}
        return found[key].value if key in found else None
    return recompute(lab.store, stored.id, key, row["revision"])


def _inputs(
    lab: Lab, stored: Sample, method: Method | None, readings: tuple[Reading, ...]
) -> tuple[InputFacts, ...]:
    if method is None:
        return ()
    if method.derived_from:
        known = {one.property: one for one in stored.results}
        return tuple(
            InputFacts(
                label=lab.specs.properties[source].label,
                text=text_of(lab.specs, source, known[source].value),
                unit=shown_unit(display_unit(lab.specs, source)),
                repeat=1,
            )
            for source in method.derived_from.values()
            if source in known and source in lab.specs.properties
        )
    return tuple(_reading(lab, method, one) for one in readings)


def _reading(lab: Lab, method: Method, one: Reading) -> InputFacts:
    entry = method.readings.get(one.name)
    return InputFacts(
        label=entry.label if entry else one.name,
        text=format_number(one.value, entry.decimals if entry else 4, mark=lab.mark),
        unit=shown_unit(entry.unit) if entry else "",
        repeat=one.repeat,
    )


def _source(then: Specs, method: Method | None) -> str:
    if method is None:
        return ""
    entry = then.sources.get(method.source)
    title = ", ".join(part for part in (entry.author, entry.title) if part) if entry else method.source
    return f"{title}: {method.place}" if method.place else title


def _constants(constants: Mapping[str, Any]) -> dict[str, str]:
    """Single constants as text; tables and lists are left to the spec files."""
    return {name: str(value) for name, value in constants.items() if not isinstance(value, dict | list)}


def _words(lab: Lab, row: Mapping[str, Any], text: str, again: str, agrees: bool | None, same: bool) -> str:
    when = clock_text(row["recorded_at"], lab.zone, lab.now())
    saved = f"Saved as {text} by {row['by']}, {when}"
    specs = "the specs in force then are those of today" if same else "the specs have changed since"
    if agrees is None:
        how = (
            "typed as the instrument showed it" if not row["method"] else "nothing is kept to compute it from"
        )
        return f"{saved}, {how}; {specs}."
    check = "the same again" if agrees else f"{again}, which differs"
    return f"{saved}; computed from what is kept it is {check}; {specs}."
