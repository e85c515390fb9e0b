"""Weight and bulk density of the standard specimen."""

from __future__ import annotations

import math

from sandlab.methods.outcome import Outcome, flagged, positive, require

HEIGHT_SHARE = 10.0  # % by which a rammed height may miss the standard one before the proportion is doubtful


def bulk_density(specimen_g: float, diameter_mm: float, height_mm: float) -> Outcome:
    """Bulk density of the rammed, moist specimen.

    ``1000 specimen_g / (pi/4 diameter_mm^2 height_mm)``

    specimen_g: weight of the rammed specimen [g]
    diameter_mm: diameter of the specimen [mm]
    height_mm: height after three rams [mm]
    returns: bulk density, moisture included [g/cm3]

    Shapes: scalars.
    Validity: three rams; height measured to 0.1 mm.
    Errors: InputError when any input is not above zero.
    Example:
    >>> round(bulk_density(155.0, 50.8, 50.8).value, 3)
    1.505

    Source: tjfs, test 104.
    """
    require(
        positive("specimen_g", specimen_g),
        positive("diameter_mm", diameter_mm),
        positive("height_mm", height_mm),
    )
    return Outcome(1000.0 * specimen_g / (math.pi / 4.0 * diameter_mm**2 * height_mm))


def specimen_weight(specimen_g: float, height_mm: float, standard_height_mm: float) -> Outcome:
    """Weight that would have rammed to the standard height, by proportion.

    ``specimen_g standard_height_mm / height_mm``

    specimen_g: weight of sand in the rammed specimen [g]
    height_mm: its height after three rams [mm]
    standard_height_mm: height of the standard specimen [mm]
    returns: weight for the standard height [g]

    Shapes: scalars.
    Validity: flagged when the height misses the standard one by more than 10 %.
    Errors: InputError when any input is not above zero.
    Example:
    >>> specimen_weight(150.0, 50.0, 50.8).value
    152.4

    Source: common_practice, proportion.
    """
    require(
        positive("specimen_g", specimen_g),
        positive("height_mm", height_mm),
        positive("standard_height_mm", standard_height_mm),
    )
    missed = 100.0 * abs(height_mm - standard_height_mm) / standard_height_mm
    flag = f"height {height_mm:g} mm is far from {standard_height_mm:g} mm: ram another specimen"
    return flagged(specimen_g * standard_height_mm / height_mm, flag if missed > HEIGHT_SHARE else "")
