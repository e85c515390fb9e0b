"""What the additions are for, in kg, and which targets they miss and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sandlab.balance.answer import Evidence, Miss, Part
from sandlab.balance.batch import Mix
from sandlab.balance.composition import COMPONENTS
from sandlab.balance.evidence import words
from sandlab.balance.inputs import Target
from sandlab.balance.steering import Dose, ReturnSand


def parts(dose: Dose, doses: Sequence[Dose], sand: ReturnSand, batch: Mix) -> tuple[Part, ...]:
    """What an addition is for, in kg as weighed; the parts add up to the setting.

    In the component it steers, with z the sand on target before core sand and x_r* after it:
    burn_out (and dust) m (x* - z); dilution by core sand and new mass m (z - x_r*) + (M - m) x*;
    correction m (x_r* - x_r); carried by the other additions; limits and resolution M (x_p - x*).
    """
    if dose.steers is None or dose.held:
        return (Part("held", dose.kg),)
    place = COMPONENTS.index(dose.steers)
    wanted = next(t.target for t in sand.targets if t.property == dose.steers)
    m, total = sand.dry_kg, float(batch.dry_kg)
    per_kg = dose.feeder.material.dry_share * float(dose.feeder.material.assay_vector[place])
    carried = sum(
        other.dry_kg * float(other.feeder.material.assay_vector[place])
        for other in doses
        if other is not dose
    )
    on_target, bare = float(sand.on_target[place]), float(sand.on_target_without_core[place])
    masses = {
        "dilution": m * (bare - on_target) + (total - m) * wanted,
        "burn_out": m * (wanted - bare),
        "correction": m * (on_target - float(sand.composition[place])),
        "carried": 0.0 - carried,
        "limits": total * (float(batch.composition[place]) - wanted),
    }
    return tuple(Part(name, mass / per_kg) for name, mass in masses.items())


def misses(
    doses: Sequence[Dose], sand: ReturnSand, batch: Mix, found: Mapping[str, Evidence]
) -> tuple[Miss, ...]:
    """Targets that the batch will not reach by more than the resolution of the feeders, and why."""
    missed = []
    moved = [dose for dose in doses if dose.steers and not dose.held]
    for target in sand.targets:
        if found[target.property].weak:
            continue
        place = COMPONENTS.index(target.property)
        expected = float(batch.composition[place])
        reach = sum(
            dose.feeder.resolution_kg
            * dose.feeder.material.dry_share
            * abs(float(dose.feeder.material.assay_vector[place]) - target.target)
            for dose in moved
        ) / (2.0 * float(batch.dry_kg))
        if abs(expected - target.target) > 1.01 * reach + 1e-9:
            because = _because(target.property, sand.targets, doses, moved)
            missed.append(Miss(target.property, target.target, expected, target.tolerance, because))
    return tuple(missed)


def _because(name: str, targets: Sequence[Target], doses: Sequence[Dose], moved: Sequence[Dose]) -> str:
    carriers = [dose for dose in doses if dose.feeder.material.assay.get(name, 0.0) > 0.0]
    if not [dose for dose in carriers if dose in moved]:
        held = [dose.feeder.id for dose in carriers if dose.held]
        return f"{', '.join(held)} held" if held else f"no feeder steers {words(name)}"
    hard = [f"{dose.feeder.id} at its {text}" for dose in carriers for text in dose.binds if _hard(text)]
    soft = [
        f"{dose.feeder.id} {text}" for dose in carriers for text in dose.binds if text.startswith("makes up")
    ]
    if hard or soft:
        return "; ".join(hard or soft)
    shared = [
        dose.feeder.id
        for dose in carriers
        if sum(dose.feeder.material.assay.get(target.property, 0.0) > 0.0 for target in targets) > 1
    ]
    return f"{', '.join(shared)} carries several components in one fixed ratio" if shared else "feeder limits"


def _hard(text: str) -> bool:
    return text.startswith(("minimum", "maximum", "greatest step", "present"))
