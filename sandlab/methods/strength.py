"""Strength of the standard specimen: compression, shear and the tensile strength of the wet zone."""

from __future__ import annotations

import math

from sandlab.methods.outcome import Outcome, not_negative, positive, require, unit_of
from sandlab.quantities import convert


def specimen_area(diameter_mm: float) -> Outcome:
    """Cross-section of a round specimen.

    ``pi/4 (diameter_mm/10)^2``

    diameter_mm: diameter of the specimen [mm]
    returns: area under load [cm2]

    Shapes: scalars.
    Validity: the standard specimen is 50.8 mm wide.
    Errors: InputError when the diameter is not above zero.
    Example:
    >>> round(specimen_area(50.8).value, 3)
    20.268

    Source: perm_textbook, area of the standard specimen.
    """
    require(positive("diameter_mm", diameter_mm))
    return Outcome(math.pi / 4.0 * (diameter_mm / 10.0) ** 2)


def strength(scale_reading: float, scale_unit: str) -> Outcome:
    """Compression or shear strength from the scale of a strength machine.

    ``scale_reading`` converted from ``scale_unit``

    scale_reading: highest reading before the specimen failed [scale_unit]
    scale_unit: unit printed on the scale [kPa, N/cm2, psi or gf/cm2]
    returns: strength [kPa]

    Shapes: scalars.
    Validity: the scale is for the standard specimen and for the load applied (compression or shear).
    Errors: InputError when the reading is negative or the unit is not one of the four.
    Example:
    >>> round(strength(14.45, "psi").value, 2)
    99.63

    Source: common_practice, reading of a strength machine; factors from the definition of the units.
    """
    require(not_negative("scale_reading", scale_reading), unit_of("scale_unit", scale_unit, "pressure"))
    return Outcome(convert(scale_reading, scale_unit, "kPa"))


def strength_from_force(force_n: float, area_cm2: float) -> Outcome:
    """Compression or shear strength from the force at failure.

    ``10 force_n / area_cm2``

    force_n: highest force [N]
    area_cm2: area under load [cm2]
    returns: strength [kPa]

    Shapes: scalars.
    Validity: the force is spread over the whole area; 20.268 cm2 for the standard specimen.
    Errors: InputError when the force is negative or the area not above zero.
    Example:
    >>> strength_from_force(300.0, 20.0).value
    150.0

    Source: common_practice, force over area.
    """
    require(not_negative("force_n", force_n), positive("area_cm2", area_cm2))
    return Outcome(convert(force_n / area_cm2, "N/cm2", "kPa"))


def wet_tensile_strength(scale_reading: float, scale_unit: str) -> Outcome:
    """Tensile strength of the wet zone behind a heated face, from the scale of the tester.

    ``scale_reading`` converted from ``scale_unit``

    scale_reading: highest reading before the wet layer parted [scale_unit]
    scale_unit: unit printed on the scale [kPa, N/cm2, psi or gf/cm2]
    returns: wet tensile strength [N/cm2]

    Shapes: scalars.
    Validity: heating plate and heating time as the tester's method states; they belong to the number.
    Errors: InputError when the reading is negative or the unit is not one of the four.
    Example:
    >>> wet_tensile_strength(0.25, "N/cm2").value
    0.25

    Source: common_practice, reading of a wet tensile tester.
    """
    require(not_negative("scale_reading", scale_reading), unit_of("scale_unit", scale_unit, "pressure"))
    return Outcome(convert(scale_reading, scale_unit, "N/cm2"))


def wet_tensile_from_force(force_n: float, area_cm2: float) -> Outcome:
    """Tensile strength of the wet zone from the force that parted it.

    ``force_n / area_cm2``

    force_n: highest force [N]
    area_cm2: area of the parted layer [cm2]
    returns: wet tensile strength [N/cm2]

    Shapes: scalars.
    Validity: as for the reading of the tester's scale.
    Errors: InputError when the force is negative or the area not above zero.
    Example:
    >>> wet_tensile_from_force(5.0, 20.0).value
    0.25

    Source: common_practice, force over area.
    """
    require(not_negative("force_n", force_n), positive("area_cm2", area_cm2))
    return Outcome(force_n / area_cm2)
