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


def loss_on_ignition(composition: Mapping[str, float], bound_water: float) -> float:
    """Loss on ignition that a composition must show.

    ``bound_water active_clay + volatiles + fixed_carbon``

    composition: components of the sand by name [% of dry]
    bound_water: water bound in the clay, driven off at ignition [share of the clay]
    returns: loss on ignition [% of dry]

    Shapes: scalars.
    Validity: the volatiles method leaves the clay's bound water in place.
    Errors: none.
    Example:
    >>> round(loss_on_ignition({"active_clay": 7.5, "volatiles": 1.15, "fixed_carbon": 2.2}, 0.055), 4)
    3.7625

    Source: tjfs, tests 208 and 209; bound water derived.
    """
    a, v, k, _ = vector(composition).tolist()
    return float(bound_water * a + v + k)


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
