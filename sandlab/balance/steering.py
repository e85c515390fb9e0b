"""Which feeders may move on the evidence there is, where they are set and what binds them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sandlab.balance.additions import (
    Bound,
    Equations,
    bounded,
    cheapest,
    equations,
    ideal,
    limits,
    main_property,
    settable,
)
from sandlab.balance.answer import Evidence
from sandlab.balance.batch import Mix, mix
from sandlab.balance.composition import COMPONENTS, Floats
from sandlab.balance.inputs import Feeder, Target
from sandlab.balance.voice import PLAINLY, Voice


@dataclass(frozen=True, slots=True)
class Dose:
    """One feeder's setting: what it steers, the limitless setting, what binds, and why it is held."""

    feeder: Feeder
    kg: float
    ideal_kg: float
    steers: str | None
    binds: tuple[str, ...]
    held: str

    @property
    def dry_kg(self) -> float:
        """Dry mass of the addition [kg]."""
        return self.kg * self.feeder.material.dry_share


@dataclass(frozen=True, slots=True)
class ReturnSand:
    """Return sand of a batch.

    dry_kg: [kg]
    composition: as it is reckoned with [% of dry]
    on_target, on_target_without_core: of a loop that is held on target, after and before core sand [% of dry]
    targets: of the components that are steered
    """

    dry_kg: float
    composition: Floats
    on_target: Floats
    on_target_without_core: Floats
    targets: tuple[Target, ...]


def steer(
    feeders: Sequence[Feeder], sand: ReturnSand, found: Mapping[str, Evidence], voice: Voice = PLAINLY
) -> tuple[Dose, ...]:
    """Settings of all feeders but water: those whose evidence is sound are moved, the others stay."""
    steers = {feeder.id: main_property(feeder.material, sand.targets) for feeder in feeders}
    weak = {feeder.id: found[name].weak for feeder in feeders if (name := steers[feeder.id]) is not None}
    moving = [feeder for feeder in feeders if weak.get(feeder.id) == ""]
    staying = [
        _stay(feeder, steers[feeder.id], weak.get(feeder.id, ""), voice)
        for feeder in feeders
        if weak.get(feeder.id) != ""
    ]
    targets = [
        target
        for target in sand.targets
        if not found[target.property].weak
        and any(feeder.material.assay.get(target.property, 0.0) > 0.0 for feeder in moving)
    ]
    problem = equations(
        [feeder.material for feeder in moving],
        [(dose.feeder.material, dose.kg) for dose in staying],
        targets,
        dry_kg=sand.dry_kg,
        return_composition=sand.composition,
    )
    moved = _move(problem, moving, steers, voice) if moving else []
    doses = {dose.feeder.id: dose for dose in [*staying, *moved]}
    return tuple(doses[feeder.id] for feeder in feeders)


def clipped(feeder: Feeder) -> float:
    """What is set now, brought inside the feeder's limits where it lies outside."""
    return min(max(feeder.present_kg, feeder.minimum_kg), feeder.maximum_kg)


def _stay(feeder: Feeder, steers: str | None, weak: str, voice: Voice) -> Dose:
    return Dose(feeder, clipped(feeder), clipped(feeder), steers, outside_words(feeder, voice), weak)


def outside_words(feeder: Feeder, voice: Voice) -> tuple[str, ...]:
    """In words, a present setting outside the feeder's limits; empty when it lies inside."""
    if feeder.minimum_kg <= feeder.present_kg <= feeder.maximum_kg:
        return ()
    limits_words = f"{voice.number(feeder.minimum_kg)} to {voice.kg(feeder.maximum_kg)}"
    return (f"present {voice.kg(feeder.present_kg)} outside {limits_words}",)


def _move(
    problem: Equations, feeders: Sequence[Feeder], steers: Mapping[str, str | None], voice: Voice
) -> list[Dose]:
    nearest = bounded(problem, feeders)
    free, best = ideal(problem, feeders).tolist(), nearest.tolist()
    chosen = cheapest(problem, feeders, nearest).tolist()
    bound = {
        feeder.id: bound_words(feeder, aim, reached, voice)
        for feeder, aim, reached in zip(feeders, free, best, strict=True)
    }
    doses = []
    for feeder, aim, reached, cheap in zip(feeders, free, best, chosen, strict=True):
        kg = settable(feeder, cheap)
        binds = [*outside_words(feeder, voice), *bound[feeder.id]]
        others = [f.id for f in feeders if f is not feeder and bound[f.id]]
        if not bound[feeder.id] and others and abs(reached - aim) > 1e-6:
            binds.append(f"makes up for the limits of {', '.join(others)}")
        if abs(cheap - reached) > 1e-6:
            binds.append("cheapest of the settings that give the same batch")
        if abs(kg - cheap) > 1e-6:
            binds.append(f"resolution {voice.kg(feeder.resolution_kg)}")
        doses.append(Dose(feeder, kg, aim, steers[feeder.id], tuple(binds), ""))
    return doses


def bound_words(feeder: Feeder, aim: float, reached: float, voice: Voice) -> list[str]:
    """The limit that keeps a feeder from its limitless setting, in words; empty when none does."""
    bounds = limits(feeder)
    if aim > bounds.high + 1e-6 and reached >= bounds.high - 1e-6:
        return [_bound(feeder, bounds.high_by, voice)]
    if aim < bounds.low - 1e-6 and reached <= bounds.low + 1e-6:
        return [_bound(feeder, bounds.low_by, voice)]
    return []


def _bound(feeder: Feeder, by: Bound, voice: Voice) -> str:
    if by == "greatest step":
        return f"greatest step {voice.kg(feeder.greatest_step_kg)} from {voice.kg(feeder.present_kg)}"
    return f"{by} {voice.kg(feeder.minimum_kg if by == 'minimum' else feeder.maximum_kg)}"


def prepared(sand: ReturnSand, doses: Sequence[Dose]) -> Mix:
    """The batch that the settings give."""
    assays = np.array([dose.feeder.material.assay_vector for dose in doses]).reshape(-1, len(COMPONENTS))
    return mix(sand.dry_kg, sand.composition, [dose.dry_kg for dose in doses], assays)
