"""Steady make-up: the additions that hold the sand on target, cycle after cycle."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
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
    dry_kg: float,
) -> SteadyState:
    """Additions that hold the targets through a full cycle; other components find their own level.

    ``sum((1 - u)(g - x*) kg) = dry_kg (x* - x_r)`` with the return sand ``x_r`` of the steady loop

    targets: targets of the components to hold [% of dry]
    materials: all materials that are added; one not in `fixed` for each target [as each states]
    fixed: kg per batch as weighed, by material id [kg]
    loop: the plant's values [as it states]
    dry_kg: dry return sand in one batch [kg]
    returns: additions and sand [kg per batch as weighed, % of dry]

    Shapes: scalars.
    Validity: a constant job mix; a need below 0 means that the loop brings too much by itself.
    Errors: InputError when materials and targets do not match, or the sand never settles.
    Example:
    >>> clay = Material("clay", "clay", 10.0, {"active_clay": 100.0})
    >>> plant = Loop(sand_to_metal=3.0, clay_wear_factor=0.4, bound_water=0.0)
    >>> target = Target("active_clay", 8.0, 0.5)
    >>> round(steady_makeup((target,), (clay,), {}, plant, 1000.0).kg["clay"], 2)
    12.88

    Source: derived, repeated mass balance; wear factors foundry_lexicon, entry "Wear factor".
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
    start = np.zeros(len(COMPONENTS))
    start[places] = goal

    def needed(returned: Floats) -> dict[str, float]:
        problem = equations(free, held, targets, dry_kg=dry_kg, return_composition=returned)
        solved = np.linalg.lstsq(problem.matrix, problem.wanted, rcond=None)[0].tolist()
        return dict(fixed) | dict(zip((material.id for material in free), solved, strict=True))

    return _settle(start, materials, loop, dry_kg, needed)


def steady_state(
    kg: Mapping[str, float],
    materials: Sequence[Material],
    loop: Loop,
    dry_kg: float,
    start: Mapping[str, float],
) -> SteadyState:
    """Sand that constant additions lead to.

    ``x = mix(cycle(x), additions)`` repeated until it no longer changes

    kg: kg per batch as weighed, by material id [kg]
    materials: all materials that are added [as each states]
    loop: the plant's values [as it states]
    dry_kg: dry return sand in one batch [kg]
    start: components of the prepared sand to begin from, by name [% of dry]
    returns: additions and sand [kg per batch as weighed, % of dry]

    Shapes: scalars.
    Validity: a constant job mix.
    Errors: InputError when the sand never settles.
    Example:
    >>> clay = Material("clay", "clay", 10.0, {"active_clay": 100.0})
    >>> plant = Loop(sand_to_metal=3.0, clay_wear_factor=0.4, bound_water=0.0)
    >>> round(steady_state({"clay": 12.88}, (clay,), plant, 1000.0, {}).prepared["active_clay"], 2)
    8.0

    Source: derived, repeated mass balance.
    """
    return _settle(vector(start), materials, loop, dry_kg, lambda _: dict(kg))


def _settle(
    state: Floats,
    materials: Sequence[Material],
    loop: Loop,
    dry_kg: float,
    additions: Callable[[Floats], dict[str, float]],
) -> SteadyState:
    """Batch after batch, with additions chosen on the return sand, until the sand stays as it is."""
    assays = np.array([material.assay_vector for material in materials])
    for _ in range(MOST_CYCLES):
        returned = cycle(state, loop).composition
        kg = additions(returned)
        dry = [kg[material.id] * material.dry_share for material in materials]
        following = mix(dry_kg, returned, dry, assays).composition
        if float(np.abs(following - state).max()) < SETTLED:
            return SteadyState(kg=kg, prepared=mapping(following), returned=mapping(returned))
        state = following
    raise impossible(
        "steady state", "the sand never settles", "check new sand, core sand and dust extraction"
    )
