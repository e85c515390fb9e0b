"""One batch: what mixing return sand with additions gives, dry inside and moist at the border."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sandlab.balance.composition import Floats
from sandlab.errors import impossible


@dataclass(frozen=True, slots=True)
class Mix:
    """Dry mass of a batch [kg] and its components, last axis in the order of COMPONENTS [% of dry]."""

    dry_kg: Floats
    composition: Floats


def water_per_dry(moisture: float) -> float:
    """Water per kg of dry sand: w / (100 - w).

    moisture: [% of moist], at least 0 and below 100
    Returns [kg/kg].

    Example: water_per_dry(3.0) is 0.030928
    Source: derived, definition of moisture on the moist basis (tjfs 201).
    """
    if not 0.0 <= moisture < 100.0:
        raise impossible(
            "moisture", f"{moisture} % is not possible", "give 0 to below 100 % of the moist sample"
        )
    return moisture / (100.0 - moisture)


def moisture_of(water_kg: float, dry_kg: float) -> float:
    """Moisture of sand that holds so much water: w = 100 W / (W + M).

    water_kg: [kg], at least 0
    dry_kg: [kg], above 0
    Returns the moisture [% of moist].

    Example: moisture_of(3.0, 97.0) == 3.0
    Source: derived, definition of moisture (tjfs 201).
    """
    if not (water_kg >= 0.0 and dry_kg > 0.0):
        raise impossible("batch", f"{water_kg} kg of water in {dry_kg} kg of dry sand", "give masses above 0")
    return 100.0 * water_kg / (water_kg + dry_kg)


def dry_mass(moist_kg: float, moisture: float) -> float:
    """Dry mass of moist sand: m (1 - w/100).

    moist_kg: [kg], at least 0
    moisture: [% of moist], at least 0 and below 100
    Returns the dry mass [kg].

    Example: dry_mass(1000.0, 2.0) == 980.0
    Source: derived, definition of moisture (tjfs 201).
    """
    if not moist_kg >= 0.0:
        raise impossible("batch", f"a mass of {moist_kg} kg is not possible", "give 0 kg or more")
    return moist_kg / (1.0 + water_per_dry(moisture))


def mix(
    dry_kg: npt.ArrayLike, composition: npt.ArrayLike, dry_added_kg: npt.ArrayLike, assays: npt.ArrayLike
) -> Mix:
    """Composition after mixing: M = m + sum d, x = (m x_r + sum d g) / M.

    dry_kg: dry return sand, shape (...) [kg]
    composition: of the return sand, shape (..., 4) [% of dry]
    dry_added_kg: dry mass of each addition, shape (..., n) [kg]
    assays: of each addition, shape (n, 4) [% of dry]
    Returns the batch, shapes (...) and (..., 4).

    Example: mix(1000.0, [7, 0, 0, 0], [10.87], [[100, 0, 0, 0]]).composition[0] is 8.000
    Source: derived, conservation of mass.
    """
    dry = np.asarray(dry_kg, dtype=np.float64)
    added = np.asarray(dry_added_kg, dtype=np.float64)
    total = dry + added.sum(axis=-1)
    carried = dry[..., None] * np.asarray(composition, dtype=np.float64) + added @ np.asarray(
        assays, dtype=np.float64
    )
    return Mix(dry_kg=np.asarray(total), composition=np.asarray(carried / total[..., None]))


def simple_addition(return_kg: float, present: float, wanted: float, *, assay: float = 100.0) -> float:
    """Addition by the simple rule of the shop: q = m (x1 - x0) / g.

    return_kg: return sand [kg]
    present: content of the return sand [%]
    wanted: content wanted in the batch [%]
    assay: content of the addition [%], above 0
    Returns the addition, dry [kg]. Falls short: it forgets that the addition adds to the total.

    Example: simple_addition(1000.0, 7.0, 8.0) == 10.0
    Source: common_practice.
    """
    if not assay > 0.0:
        raise impossible(
            "addition", f"an assay of {assay} % cannot raise anything", "enter the assay of the material"
        )
    return return_kg * (wanted - present) / assay


def exact_addition(
    return_kg: float, present: float, wanted: float, *, assay: float = 100.0, moisture: float = 0.0
) -> float:
    """Addition that reaches a content in the new total: q = m (x1 - x0) / ((g - x1)(1 - u)).

    return_kg: dry return sand [kg]
    present: content of the return sand [% of dry]
    wanted: content wanted in the batch [% of dry]
    assay: content of the addition [% of dry], above wanted
    moisture: of the addition [% of moist]
    Returns the addition as weighed [kg]; below 0 where the return sand holds too much.

    Example: exact_addition(1000.0, 7.0, 8.0) is 10.87
    Source: derived, conservation of mass.
    """
    if not assay > wanted:
        raise impossible(
            "addition", f"an assay of {assay} % cannot reach {wanted} %", "enter a richer material"
        )
    return return_kg * (wanted - present) / (assay - wanted) * (1.0 + water_per_dry(moisture))
