"""What the tests say: filtered values, their age, and whether they are good enough to move an addition."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sandlab.balance.answer import Evidence
from sandlab.balance.composition import COMPONENTS
from sandlab.balance.filtering import exponentially_weighted
from sandlab.balance.inputs import AdviceInputs, Reading, Target

HOUR = 60.0
# Age of the last test beyond which it moves nothing [min]; common practice, a target may carry its own.
GREATEST_AGE_MIN: Mapping[str, float] = {
    "compactability": 4 * HOUR,
    "moisture": 4 * HOUR,
    "return_moisture": 4 * HOUR,
    "return_temperature": 4 * HOUR,
    "sand_temperature": 2 * HOUR,
    "active_clay": 48 * HOUR,
    "volatiles": 7 * 24 * HOUR,
    "fixed_carbon": 14 * 24 * HOUR,
    "inert_fines": 14 * 24 * HOUR,
}


def words(name: str) -> str:
    """A property key as a person reads it."""
    return name.replace("_", " ")


def age_words(age_min: float) -> str:
    """An age as a person says it: 45 min, 5 h, 3 days."""
    if age_min < 2 * HOUR:
        return f"{age_min:.0f} min"
    return f"{age_min / HOUR:.0f} h" if age_min < 48 * HOUR else f"{age_min / HOUR / 24:.0f} days"


def greatest_age(name: str, targets: Sequence[Target]) -> float:
    """How old the last test of a property may be [min]."""
    own = next((t.greatest_age_min for t in targets if t.property == name), None)
    return GREATEST_AGE_MIN[name] if own is None else own


def evidence(
    name: str, readings: Sequence[Reading], start: float, *, weight: float, greatest_age_min: float
) -> Evidence:
    """The filtered value of one property from `start`, and why it is weak where it is."""
    ordered = sorted(readings, key=lambda reading: -reading.age_min)
    if not ordered:
        return Evidence(name, start, None, None, 0, f"no test of {words(name)}")
    value = exponentially_weighted(
        [r.value for r in ordered], start, weight=weight, doubtful=[r.doubtful for r in ordered]
    )
    last = ordered[-1]
    weak = ""
    if last.doubtful:
        weak = f"the last {words(name)} result, {last.value:g}, is doubtful"
    elif last.age_min > greatest_age_min:
        weak = f"the last {words(name)} test is {age_words(last.age_min)} old"
    return Evidence(name, value, last.value, last.age_min, len(ordered), weak)


def composition_evidence(inputs: AdviceInputs) -> dict[str, Evidence]:
    """Prepared sand, component by component: filtered from its target, its usual value, or its first test."""
    targets = {target.property: target.target for target in inputs.targets}
    found = {}
    for name in COMPONENTS:
        readings = inputs.tests.get(name, ())
        oldest = max(readings, key=lambda r: r.age_min).value if readings else 0.0
        start = targets.get(name, inputs.usual.get(name, oldest))
        found[name] = evidence(
            name,
            readings,
            start,
            weight=inputs.weight,
            greatest_age_min=greatest_age(name, inputs.targets),
        )
    return found


def nearest_in_time(name: str, age_min: float, inputs: AdviceInputs, default: float) -> float:
    """The result of a property taken nearest to a time, `default` when there is none that is not doubtful."""
    usable = [r for r in inputs.tests.get(name, ()) if not r.doubtful]
    found = min(usable, key=lambda r: abs(r.age_min - age_min), default=None)
    return default if found is None else found.value


def newest(name: str, inputs: AdviceInputs) -> Reading | None:
    """The newest result of a property that is neither doubtful nor too old; None when there is none."""
    limit = greatest_age(name, inputs.targets)
    usable = [r for r in inputs.tests.get(name, ()) if not r.doubtful and r.age_min <= limit]
    return min(usable, key=lambda r: r.age_min, default=None)
