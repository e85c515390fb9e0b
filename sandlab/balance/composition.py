"""What sand is made of, on the dry basis: four components in %, the rest is grain."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from sandlab.errors import Problem, nearest

Floats = npt.NDArray[np.float64]

COMPONENTS = ("active_clay", "volatiles", "fixed_carbon", "inert_fines")


def vector(composition: Mapping[str, float]) -> Floats:
    """The components in the order of COMPONENTS; one that is not named is 0."""
    return np.array([float(composition.get(name, 0.0)) for name in COMPONENTS])


def mapping(values: npt.ArrayLike) -> dict[str, float]:
    """The components by name."""
    return dict(zip(COMPONENTS, np.asarray(values, dtype=np.float64).tolist(), strict=True))


def loss_on_ignition(composition: Mapping[str, float], *, bound_water: float) -> float:
    """Loss on ignition that a composition must show: LOI = h a + v + k.

    composition: components of the sand [% of dry]
    bound_water: water bound in the clay, driven off at ignition [share of the clay]
    Returns the loss on ignition [% of dry].

    Valid where the volatiles method does not drive off the clay's bound water.
    Example: 7.5 % clay with 5.5 % bound water, volatiles 1.15 and fixed carbon 2.2 give 3.7625
    Source: derived, from the definitions of the Japanese test methods (tjfs 208, 209).
    """
    a, v, k, _ = vector(composition).tolist()
    return float(bound_water * a + v + k)


def fixed_carbon(
    loss_on_ignition: float, volatiles: float, active_clay: float, *, bound_water: float
) -> float:
    """Fixed carbon as what loss on ignition leaves over: k = LOI - v - h a.

    loss_on_ignition: loss on ignition [% of dry]
    volatiles: volatile matter [% of dry]
    active_clay: active clay [% of dry]
    bound_water: water bound in the clay that the volatiles method leaves in place [share of the clay]
    Returns fixed carbon [% of dry]; may come out below 0 where the tests disagree.

    Example: fixed_carbon(3.7625, 1.15, 7.5, bound_water=0.055) is 2.2
    Source: derived, from tjfs 209.
    """
    return loss_on_ignition - volatiles - bound_water * active_clay


def composition_problems(
    where: str, composition: Mapping[str, Any], *, ceiling: float = 100.0
) -> list[Problem]:
    """What cannot be in a composition: unknown names, values that are not between 0 and the ceiling."""
    problems = [
        Problem(where, f"'{name}' is not a component of sand", nearest(name, COMPONENTS))
        for name in composition
        if name not in COMPONENTS
    ]
    for name in COMPONENTS:
        value = composition.get(name, 0.0)
        if not 0.0 <= value <= ceiling:  # also catches NaN
            problems.append(
                Problem(f"{where}, {name}", f"{value} % is not possible", f"give 0 to {ceiling:g} %")
            )
    return problems
