"""Temperature of the sand from a thermometer."""

from __future__ import annotations

from sandlab.errors import Problem
from sandlab.methods.outcome import Outcome, finite, require, unit_of
from sandlab.quantities import convert

ABSOLUTE_ZERO_C = -273.15


def sand_temperature(thermometer_reading: float, thermometer_unit: str, correction_c: float) -> Outcome:
    """Temperature of the sand at one place; the repeats of the method give the mean of several places.

    ``thermometer_reading`` in C, plus ``correction_c``

    thermometer_reading: steady reading with the tip deep in fresh sand [thermometer_unit]
    thermometer_unit: unit of the thermometer [C or F]
    correction_c: correction from the thermometer's certificate, 0 when it has none [C]
    returns: temperature [C]

    Shapes: scalars.
    Validity: read at once after sampling; sand cools by evaporation on the way.
    Errors: InputError when an input is not finite, the unit is neither C nor F, or it is below absolute zero.
    Example:
    >>> sand_temperature(104.0, "F", 0.0).value
    40.0

    Source: common_practice, thermometer; scales by their definition.
    """
    require(
        finite("thermometer_reading", thermometer_reading),
        unit_of("thermometer_unit", thermometer_unit, "temperature"),
        finite("correction_c", correction_c),
    )
    celsius = convert(thermometer_reading, thermometer_unit, "C") + correction_c
    what, do = f"{celsius:g} C is below absolute zero", "check the unit of the thermometer"
    require(Problem("thermometer_reading", what, do) if celsius < ABSOLUTE_ZERO_C else None)
    return Outcome(celsius)
