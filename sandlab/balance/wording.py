"""The sentences of a recommendation: its reason, what holds it, what makes it void, what looks wrong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sandlab.balance.answer import Addition, Evidence, Expected
from sandlab.balance.evidence import words
from sandlab.balance.inputs import AdviceInputs
from sandlab.balance.loop import DOUBTFUL_BURN, burnt_shares

HOT, TOO_HOT = (
    49.0,
    71.0,
)  # C: sand behaves inconsistently above the first, cannot be mulled alike above the second


def change_words(addition: Addition) -> str:
    """A change as a person says it: bentonite up 1 kg to 13 kg."""
    if addition.held:
        return f"{addition.feeder} held at {addition.kg:g} kg"
    if abs(addition.change_kg) < 1e-9:
        return f"{addition.feeder} stays at {addition.kg:g} kg"
    way = "up" if addition.change_kg > 0.0 else "down"
    return f"{addition.feeder} {way} {abs(addition.change_kg):g} kg to {addition.kg:g} kg"


def reason(
    inputs: AdviceInputs,
    additions: Sequence[Addition],
    steers: Mapping[str, str],
    found: Mapping[str, Evidence],
) -> str:
    """One sentence: each steered property, filtered, against its target, and what follows for it."""
    clauses = []
    for target in inputs.targets:
        moved = [change_words(a) for a in additions if steers.get(a.feeder) == target.property]
        if not moved:
            continue
        known = found[target.property]
        label = words(target.property)
        if known.count == 0 or known.age_min is None:
            seen = f"{label} not tested, target {target.target:g} %"
        else:
            seen = f"{label} {known.value:.1f} against {target.target:g} %"
        clauses.append(f"{seen}: {', '.join(moved)}")
    text = "; ".join(clauses) or "nothing is steered"
    return f"{text[0].upper()}{text[1:]}."


def hold_words(weak: Mapping[str, str]) -> str:
    """One sentence that says which feeders are held and why; empty when none is."""
    by_cause: dict[str, list[str]] = {}
    for feeder, cause in weak.items():
        if cause:
            by_cause.setdefault(cause, []).append(feeder)
    if not by_cause:
        return ""
    causes = [f"{' and '.join(feeders)}, because {cause}" for cause, feeders in by_cause.items()]
    return f"Hold {'; '.join(causes)}: test again before changing."


def void_words(inputs: AdviceInputs) -> tuple[str, ...]:
    """What ends the validity of a recommendation."""
    loop = inputs.loop
    lots = [
        feeder.material.id
        for feeder in inputs.feeders
        if feeder.material.kind in ("clay", "carbon", "premix")
    ]
    return (
        "a newer test of a steered property",
        f"sand:metal not {loop.sand_to_metal:g}, or core sand not {loop.core_sand_t_per_t:g} t per t metal",
        f"a new lot of {', '.join(lots)}" if lots else "a new lot of any material",
        "return sand 10 C hotter or colder, or 0.5 % wetter or drier",
        "the first batches after a stop",
    )


def plant_flags(inputs: AdviceInputs, expected: Expected, return_temperature: float) -> tuple[str, ...]:
    """What looks wrong in the plant and is not put right batch by batch."""
    flags = []
    if burnt_shares(inputs.loop).max() > DOUBTFUL_BURN:
        flags.append("more than half of a component burns in one cycle: check wear factor and sand:metal")
    if return_temperature > HOT:
        effect = (
            "cannot be mulled to constant properties"
            if return_temperature > TOO_HOT
            else "behaves inconsistently"
        )
        flags.append(f"return sand at {return_temperature:.0f} C {effect}: cool it")
    flags += _water_gap(inputs)
    for target in inputs.targets:
        value = expected.composition.get(target.property)
        if (
            target.property == "inert_fines"
            and value is not None
            and abs(value - target.target) > target.tolerance
        ):
            flags.append(
                f"inert fines {value:.1f} % against {target.target:g} +/- {target.tolerance:g} %: "
                "not corrected in one batch; look at new sand and dust extraction"
            )
    return tuple(flags)


def _water_gap(inputs: AdviceInputs) -> list[str]:
    """Whether the last tested batch had other water than is set now: its result is of another setting."""
    water = next(feeder for feeder in inputs.feeders if feeder.material.kind == "water")
    logged = [test for test in inputs.temper_tests if test.water_kg is not None]
    last = min(logged, key=lambda test: test.age_min, default=None)
    if (
        last is None
        or last.water_kg is None
        or abs(last.water_kg - water.present_kg) <= 2 * water.resolution_kg
    ):
        return []
    return [f"the last tested batch had {last.water_kg:.1f} kg of water, set now are {water.present_kg:g} kg"]
