"""Kilograms of clay, carbon and premix: bounded least squares on the batch balance, and their parts.

Unknowns are kg as weighed. A component that must end at x* gives one linear equation,

    sum over feeders of (1 - u)(g - x*) q = m (x* - x_r),

exact in the new total, weighted by 1 / (m tolerance).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Literal

import numpy as np

from sandlab.balance.composition import COMPONENTS, Floats
from sandlab.balance.inputs import Feeder, Target
from sandlab.balance.materials import Material

Bound = Literal["minimum", "maximum", "greatest step"]
STEERING_KINDS = ("clay", "carbon", "premix")
TIE = 1e-5  # pull towards the present setting, as a share of what a feeder does: decides only exact ties
NEAR = 0.01  # tolerances that may be given away for a lower cost


@dataclass(frozen=True, slots=True)
class Equations:
    """The equations of one batch: matrix (targets x feeders), wanted (targets), in tolerances."""

    matrix: Floats
    wanted: Floats


@dataclass(frozen=True, slots=True)
class Limits:
    """Where a feeder may be set in this step, and what bounds it at either end."""

    low: float
    high: float
    low_by: Bound
    high_by: Bound


def limits(feeder: Feeder) -> Limits:
    """Minimum, maximum and greatest step as one range; minimum and maximum win over the step."""
    low, high = feeder.present_kg - feeder.greatest_step_kg, feeder.present_kg + feeder.greatest_step_kg
    if high < feeder.minimum_kg or low > feeder.maximum_kg:
        edge = feeder.minimum_kg if high < feeder.minimum_kg else feeder.maximum_kg
        return Limits(edge, edge, "minimum", "maximum")
    return Limits(
        low=max(low, feeder.minimum_kg),
        high=min(high, feeder.maximum_kg),
        low_by="minimum" if feeder.minimum_kg >= low else "greatest step",
        high_by="maximum" if feeder.maximum_kg <= high else "greatest step",
    )


def settable(feeder: Feeder, kg: float) -> float:
    """The nearest setting inside the limits; what is set now where no step of the resolution fits."""
    bounds = limits(feeder)
    steps = feeder.resolution_kg
    low, high = ceil(bounds.low / steps - 1e-9), floor(bounds.high / steps + 1e-9)
    if low > high:
        return min(max(feeder.present_kg, bounds.low), bounds.high)
    return round(min(max(round(kg / steps), low), high) * steps, 9)


def main_property(material: Material, targets: Sequence[Target]) -> str | None:
    """The targeted component that a material steers: what it carries most of, in tolerances; or None."""
    if material.kind not in STEERING_KINDS:
        return None
    carried = {t.property: material.assay.get(t.property, 0.0) / t.tolerance for t in targets}
    best = max(carried, key=lambda name: carried[name], default=None)
    return best if best is not None and carried[best] > 0.0 else None


def equations(
    materials: Sequence[Material],
    fixed: Sequence[tuple[Material, float]],
    targets: Sequence[Target],
    *,
    dry_kg: float,
    return_composition: Floats,
) -> Equations:
    """The batch balance of the targeted components; kg of the fixed materials stand on the right side."""
    places = [COMPONENTS.index(target.property) for target in targets]
    goal = np.array([target.target for target in targets])
    weight = 1.0 / (dry_kg * np.array([target.tolerance for target in targets]))

    def lift(material: Material) -> Floats:
        return np.asarray(material.dry_share * (material.assay_vector[places] - goal))

    columns = [lift(material) for material in materials]
    matrix = np.array(columns).T if columns else np.zeros((len(targets), 0))
    brought = sum((lift(material) * kg for material, kg in fixed), np.zeros(len(targets)))
    wanted = dry_kg * (goal - return_composition[places]) - brought
    return Equations(matrix=np.asarray(matrix * weight[:, None]), wanted=np.asarray(wanted * weight))


def ideal(problem: Equations, feeders: Sequence[Feeder]) -> Floats:
    """The settings without limits; ties stay near what is set now."""
    matrix, wanted = _with_ties(problem, feeders)
    return np.asarray(np.linalg.lstsq(matrix, wanted, rcond=None)[0])


def bounded(problem: Equations, feeders: Sequence[Feeder]) -> Floats:
    """The settings nearest to the targets within the limits; ties stay near what is set now."""
    from scipy.optimize import lsq_linear

    ranges = [limits(feeder) for feeder in feeders]
    low, high = np.array([r.low for r in ranges]), np.array([r.high for r in ranges])
    free = high - low > 1e-9
    answer = (low + high) / 2.0
    if not free.any():
        return np.asarray(answer)
    matrix, wanted = _with_ties(problem, feeders)
    rest = wanted - matrix[:, ~free] @ answer[~free]
    solution = lsq_linear(matrix[:, free], rest, bounds=(low[free], high[free]), method="bvls")
    answer[free] = np.clip(solution.x, low[free], high[free])
    return np.asarray(answer)


def cheapest(problem: Equations, feeders: Sequence[Feeder], answer: Floats) -> Floats:
    """Among the settings within limits that give the same batch as `answer`, within NEAR, the cheapest.

    Without more feeders than targets, or with equal prices, there is nothing to choose.
    """
    from scipy.optimize import linprog

    costs = np.array([feeder.material.cost_per_t for feeder in feeders])
    if len(feeders) <= problem.matrix.shape[0] or np.ptp(costs) == 0.0:
        return answer
    reached = problem.matrix @ answer
    found = linprog(
        costs,
        A_ub=np.vstack([problem.matrix, -problem.matrix]),
        b_ub=np.concatenate([reached + NEAR, NEAR - reached]),
        bounds=[(limits(feeder).low, limits(feeder).high) for feeder in feeders],
    )
    return np.asarray(found.x) if found.status == 0 else answer


def _with_ties(problem: Equations, feeders: Sequence[Feeder]) -> tuple[Floats, Floats]:
    pull = TIE * np.linalg.norm(problem.matrix, axis=0)
    present = np.array([feeder.present_kg for feeder in feeders])
    return np.vstack([problem.matrix, np.diag(pull)]), np.concatenate([problem.wanted, pull * present])
