"""Steady make-up: the additions that hold the sand on target, cycle after cycle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sandlab.balance.additions import equations, main_property
from sandlab.balance.batch import mix
from sandlab.balance.composition import COMPONENTS, Floats, mapping, vector
from sandlab.balance.inputs import Target
from sandlab.balance.loop import Loop, cycle
from sandlab.balance.materials import Material
from sandlab.errors import impossible

SETTLED = 1e-9  # % of dry between two cycles
MOST_CYCLES = 20_000


@dataclass(frozen=True, slots=True)
class SteadyState:
    """Sand that no longer changes: kg per batch as weighed, prepared and return sand in % of dry."""

    kg: Mapping[str, float]
    prepared: Mapping[str, float]
    returned: Mapping[str, float]


def steady_makeup(
    targets: Sequence[Target],
    materials: Sequence[Material],
    fixed: Mapping[str, float],
    loop: Loop,
    *,
    dry_kg: float,
) -> SteadyState:
    """Additions that hold the targets through a full cycle; other components find their own level.

    targets: of the components to hold
    materials: all materials that are added; those not in `fixed` are solved for, one for each target
    fixed: material id -> kg per batch as weighed [kg]
    loop: the plant's values
    dry_kg: dry return sand in one batch [kg]
    Returns the additions and the sand; a need below 0 means that the loop brings too much by itself.

    Example: 1000 kg, 8 % clay, sand:metal 3, wear factor 0.4, pure bentonite at 10 % moisture: 12.88 kg
    Source: derived; wear factors foundry_lexicon, entry "Wear factor".
    """
    free = [material for material in materials if material.id not in fixed]
    if len(free) != len(targets) or any(main_property(material, targets) is None for material in free):
        raise impossible(
            "steady make-up",
            f"{len(free)} materials to solve for and {len(targets)} targets",
            "give one clay, carbon or premix for each target and the kg of all others",
        )
    places = [COMPONENTS.index(target.property) for target in targets]
    held = [(material, fixed[material.id]) for material in materials if material.id in fixed]
    goal = np.array([target.target for target in targets])
    state = np.zeros(len(COMPONENTS))
    state[places] = goal
    for _ in range(MOST_CYCLES):
        returned = cycle(state, loop).composition
        problem = equations(free, held, targets, dry_kg=dry_kg, return_composition=returned)
        solved = np.linalg.lstsq(problem.matrix, problem.wanted, rcond=None)[0]
        kg = {material.id: amount for material, amount in zip(free, solved.tolist(), strict=True)} | dict(
            fixed
        )
        following = _batch(materials, kg, returned, dry_kg)
        if float(np.abs(following - state).max()) < SETTLED:
            return SteadyState(kg=kg, prepared=mapping(following), returned=mapping(returned))
        state = following
    raise impossible(
        "steady make-up", "the sand never settles", "check new sand, core sand and dust extraction"
    )


def steady_state(
    kg: Mapping[str, float],
    materials: Sequence[Material],
    loop: Loop,
    *,
    dry_kg: float,
    start: Mapping[str, float],
) -> SteadyState:
    """Sand that constant additions lead to.

    kg: material id -> kg per batch as weighed [kg]
    materials: all materials that are added
    loop: the plant's values
    dry_kg: dry return sand in one batch [kg]
    start: prepared sand to begin from [% of dry]
    Returns the sand that no longer changes.

    Example: a closed loop without burning keeps the sand it starts from
    Source: derived, repeated mass balance of batch and cycle.
    """
    state = vector(start)
    for _ in range(MOST_CYCLES):
        returned = cycle(state, loop).composition
        following = _batch(materials, kg, returned, dry_kg)
        if float(np.abs(following - state).max()) < SETTLED:
            return SteadyState(kg=dict(kg), prepared=mapping(following), returned=mapping(returned))
        state = following
    raise impossible(
        "steady state", "the sand never settles", "check new sand, core sand and dust extraction"
    )


def _batch(materials: Sequence[Material], kg: Mapping[str, float], returned: Floats, dry_kg: float) -> Floats:
    dry = [kg[material.id] * material.dry_share for material in materials]
    return mix(dry_kg, returned, dry, np.array([material.assay_vector for material in materials])).composition
