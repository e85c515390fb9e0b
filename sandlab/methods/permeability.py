"""Permeability of the standard specimen: by timing a volume of air, and by the table of an orifice plate."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise

from sandlab.errors import Problem
from sandlab.methods.outcome import Outcome, positive, require


def permeability(
    pressure_gf_cm2: float, time_s: float, air_cm3: float, height_cm: float, area_cm2: float
) -> Outcome:
    """Permeability number from the time a volume of air takes through the specimen.

    ``air_cm3 height_cm / (pressure_gf_cm2 area_cm2 time_s/60)``

    pressure_gf_cm2: pressure before the specimen [gf/cm2]
    time_s: time for the air to pass [s]
    air_cm3: volume of air [cm3]
    height_cm: height of the specimen [cm]
    area_cm2: area of the specimen [cm2]
    returns: permeability number [1]

    Shapes: scalars.
    Validity: 2000 cm3 through the standard specimen (5.08 cm high, 20.268 cm2); steady pressure.
    Errors: InputError when any input is not above zero.
    Example:
    >>> round(permeability(9.6, 36.0, 2000.0, 5.08, 20.268).value)
    87

    Source: perm_sheet, experiment 3.
    """
    require(
        positive("pressure_gf_cm2", pressure_gf_cm2),
        positive("time_s", time_s),
        positive("air_cm3", air_cm3),
        positive("height_cm", height_cm),
        positive("area_cm2", area_cm2),
    )
    return Outcome(air_cm3 * height_cm / (pressure_gf_cm2 * area_cm2 * (time_s / 60.0)))


def permeability_orifice(pressure_gf_cm2: float, orifice_table: Sequence[Sequence[float]]) -> Outcome:
    """Permeability number from the pressure behind an orifice plate, by the table of that plate.

    straight line between neighbouring rows of the table

    pressure_gf_cm2: pressure between plate and specimen [gf/cm2]
    orifice_table: rows of pressure and permeability, as delivered with the plate [gf/cm2, 1]
    returns: permeability number [1]

    Shapes: orifice_table (n, 2), n at least 2.
    Validity: within the pressures of the table; outside it the nearest row is returned, flagged.
    Errors: InputError when the table is missing, or pressure and permeability do not run against each other.
    Example:
    >>> permeability_orifice(2.5, [[2.0, 100.0], [3.0, 80.0]]).value
    90.0

    Source: common_practice, table delivered with the plate.
    """
    require(positive("pressure_gf_cm2", pressure_gf_cm2), *_table_problems(orifice_table))
    rows = sorted((float(pressure), float(number)) for pressure, number in orifice_table)
    (lowest, first), (highest, last) = rows[0], rows[-1]
    span = f"{lowest:g} to {highest:g} gf/cm2"
    outside = f"pressure {pressure_gf_cm2:g} is outside the plate's table ({span}): change the plate"
    if pressure_gf_cm2 < lowest:
        return Outcome(first, (outside,))
    if pressure_gf_cm2 > highest:
        return Outcome(last, (outside,))
    upper = max(1, bisect_left([pressure for pressure, _ in rows], pressure_gf_cm2))
    (low, above), (high, below) = rows[upper - 1], rows[upper]
    return Outcome(above + (below - above) * (pressure_gf_cm2 - low) / (high - low))


def _table_problems(table: Sequence[Sequence[float]]) -> list[Problem | None]:
    """What keeps an orifice table from being read."""
    if len(table) < 2 or any(len(row) != 2 for row in table):
        what = "needs two or more rows of pressure and permeability"
        return [Problem("orifice_table", what, "enter the table delivered with your own plate")]
    unreadable = [positive("orifice_table", cell) for row in table for cell in row]
    if any(unreadable):
        return list(unreadable)
    rows = sorted(tuple(row) for row in table)
    falls = all(low[0] < high[0] and low[1] > high[1] for low, high in pairwise(rows))
    what = "permeability has to fall as the pressure rises"
    return [None if falls else Problem("orifice_table", what, "check the rows")]
