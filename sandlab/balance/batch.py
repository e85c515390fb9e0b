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
    """Water per kg of dry sand.

    ``moisture / (100 - moisture)``

    moisture: moisture on the moist basis [%]
    returns: water per dry mass [kg/kg]

    Shapes: scalars.
    Validity: any sand.
    Errors: InputError when the moisture is below 0 or not below 100 %.
    Example:
    >>> round(water_per_dry(3.0), 6)
    0.030928

    Source: tjfs, test 201 (definition of moisture).
    """
    if not 0.0 <= moisture < 100.0:
        raise impossible(
            "moisture", f"{moisture} % is not possible", "give 0 to below 100 % of the moist sample"
        )
    return moisture / (100.0 - moisture)


def moisture_of(water_kg: float, dry_kg: float) -> float:
    """Moisture of sand that holds so much water.

    ``100 water_kg / (water_kg + dry_kg)``

    water_kg: water in the sand [kg]
    dry_kg: dry sand [kg]
    returns: moisture on the moist basis [%]

    Shapes: scalars.
    Validity: any sand.
    Errors: InputError when the water is below 0 or there is no dry sand.
    Example:
    >>> moisture_of(3.0, 97.0)
    3.0

    Source: tjfs, test 201 (definition of moisture).
    """
    if not (water_kg >= 0.0 and dry_kg > 0.0):
        raise impossible("batch", f"{water_kg} kg of water in {dry_kg} kg of dry sand", "give masses above 0")
    return 100.0 * water_kg / (water_kg + dry_kg)


def dry_mass(moist_kg: float, moisture: float) -> float:
    """Dry mass of moist sand.

    ``moist_kg (1 - moisture/100)``

    moist_kg: mass as weighed [kg]
    moisture: moisture on the moist basis [%]
    returns: dry mass [kg]

    Shapes: scalars.
    Validity: any sand.
    Errors: InputError when the mass is below 0, the moisture below 0 or not below 100 %.
    Example:
    >>> round(dry_mass(1000.0, 2.0), 9)
    980.0

    Source: tjfs, test 201 (definition of moisture).
    """
    if not moist_kg >= 0.0:
        raise impossible("batch", f"a mass of {moist_kg} kg is not possible", "give 0 kg or more")
    return moist_kg / (1.0 + water_per_dry(moisture))


def mix(
    dry_kg: npt.ArrayLike, composition: npt.ArrayLike, dry_added_kg: npt.ArrayLike, assays: npt.ArrayLike
) -> Mix:
    """Composition of return sand after mixing with additions.

    ``M = dry_kg + sum(dry_added_kg)``, ``x = (dry_kg composition + sum(dry_added_kg assays)) / M``

    dry_kg: dry return sand [kg]
    composition: components of the return sand [% of dry]
    dry_added_kg: dry mass of each addition [kg]
    assays: components of each addition [% of dry]
    returns: dry mass and composition of the batch [kg, % of dry]

    Shapes: dry_kg (...), composition (..., 4), dry_added_kg (..., n), assays (n, 4); results (...), (..., 4).
    Validity: any masses; an assay of clay on the scale of the calibration may pass 100 %.
    Errors: those of numpy when the shapes do not fit.
    Example:
    >>> round(float(mix(1000.0, [7, 0, 0, 0], [10.87], [[100, 0, 0, 0]]).composition[0]), 3)
    8.0

    Source: derived, conservation of mass.
    """
    dry = np.asarray(dry_kg, dtype=np.float64)
    added = np.asarray(dry_added_kg, dtype=np.float64)
    total = dry + added.sum(axis=-1)
    brought = added @ np.asarray(assays, dtype=np.float64)
    carried = dry[..., None] * np.asarray(composition, dtype=np.float64) + brought
    return Mix(dry_kg=np.asarray(total), composition=np.asarray(carried / total[..., None]))


def simple_addition(return_kg: float, present: float, wanted: float, assay: float = 100.0) -> float:
    """Addition by the simple rule of the shop, which forgets that the addition adds to the total.

    ``return_kg (wanted - present) / assay``

    return_kg: return sand [kg]
    present: content of the return sand [%]
    wanted: content wanted in the batch [%]
    assay: content of the addition [%]
    returns: addition [kg]

    Shapes: scalars.
    Validity: small corrections; it falls short by the share `wanted / assay`.
    Errors: InputError when the assay is not above 0.
    Example:
    >>> simple_addition(1000.0, 7.0, 8.0)
    10.0

    Source: common_practice, rule of the shop.
    """
    if not assay > 0.0:
        raise impossible(
            "addition", f"an assay of {assay} % cannot raise anything", "enter the material's assay"
        )
    return return_kg * (wanted - present) / assay


def exact_addition(
    return_kg: float, present: float, wanted: float, assay: float = 100.0, moisture: float = 0.0
) -> float:
    """Addition as weighed that reaches a content in the new total.

    ``return_kg (wanted - present) / (assay - wanted) / (1 - moisture/100)``

    return_kg: dry return sand [kg]
    present: content of the return sand [% of dry]
    wanted: content wanted in the batch [% of dry]
    assay: content of the addition [% of dry]
    moisture: moisture of the addition [%]
    returns: addition as weighed [kg]

    Shapes: scalars.
    Validity: one addition and one component; below 0 where the return sand holds too much.
    Errors: InputError when the assay is not above the content wanted, or the moisture is impossible.
    Example:
    >>> round(exact_addition(1000.0, 7.0, 8.0), 2)
    10.87

    Source: derived, conservation of mass.
    """
    if not assay > wanted:
        raise impossible(
            "addition", f"an assay of {assay} % cannot reach {wanted} %", "enter a richer material"
        )
    return return_kg * (wanted - present) / (assay - wanted) * (1.0 + water_per_dry(moisture))
