"""Clay indices that follow from other results: the bond that could work, does work, and is dead."""

from __future__ import annotations

import math

from sandlab.errors import Problem
from sandlab.methods.outcome import Outcome, flagged, not_negative, percentage, positive, require
from sandlab.quantities import convert

WORKING_BOND_POLE = 132.1
END_OF_CURVE = 0.475  # denominator at which the moisture green strength passes 96 %


def _psi(gcs_kpa: float) -> float:
    """Green compression strength in the unit of the published equations."""
    return convert(gcs_kpa, "kPa", "psi")


def available_bond(gcs_kpa: float, moisture: float) -> Outcome:
    """Clay that could bond if it were fully mulled.

    ``0.105 GCS + 1.316 moisture``, GCS in psi

    gcs_kpa: green compression strength [kPa]
    moisture: moisture of the moist sample [%]
    returns: available bond [%]

    Shapes: scalars.
    Validity: bentonite-bonded sand; strength and moisture of the same sample.
    Errors: InputError when the strength is negative or the moisture is not a percentage.
    Example:
    >>> round(available_bond(124.1056, 3.2).value, 3)
    6.101

    Source: icri610, p. 16; the same in honeyman2014.
    """
    require(not_negative("gcs_kpa", gcs_kpa), percentage("moisture", moisture))
    return Outcome(0.105 * _psi(gcs_kpa) + 1.316 * moisture)


def working_bond(gcs_kpa: float, compactability: float) -> Outcome:
    """Clay that does bond, as it is mulled.

    ``15.29 GCS / (132.1 - compactability)``, GCS in psi

    gcs_kpa: green compression strength [kPa]
    compactability: compactability of the same sample [%]
    returns: working bond [%]

    Shapes: scalars.
    Validity: bentonite-bonded sand, compactability below 132.1 (any percentage is).
    Errors: InputError when the strength is negative or the compactability is not a percentage.
    Example:
    >>> round(working_bond(124.1056, 40.0).value, 3)
    2.988

    Source: icri610, p. 16; the same in honeyman2014.
    """
    require(not_negative("gcs_kpa", gcs_kpa), percentage("compactability", compactability))
    return Outcome(15.29 * _psi(gcs_kpa) / (WORKING_BOND_POLE - compactability))


def moisture_green_strength(gcs_kpa: float, moisture: float) -> Outcome:
    """Clay that strength and moisture together speak of.

    ``(4.52 * 10^(1/(2.5887 - 1.155 log10 moisture - 0.5635 log10 GCS)) + 4.74)/6``, GCS in psi

    gcs_kpa: green compression strength [kPa]
    moisture: moisture of the moist sample [%]
    returns: moisture green strength [%]

    Shapes: scalars.
    Validity: flagged above 15 %, where the curve runs away; it is not followed beyond 100 %.
    Errors: InputError when an input is not above zero or the two lie beyond the end of the curve.
    Example:
    >>> round(moisture_green_strength(172.3689, 3.0).value, 3)
    5.544

    Source: icri610, p. 16.
    """
    require(positive("gcs_kpa", gcs_kpa), positive("moisture", moisture), percentage("moisture", moisture))
    denominator = 2.5887 - 1.155 * math.log10(moisture) - 0.5635 * math.log10(_psi(gcs_kpa))
    what, do = "strength and moisture lie beyond the end of the published curve", "check both readings"
    require(Problem("gcs_kpa, moisture", what, do) if denominator < END_OF_CURVE else None)
    clay = (4.52 * 10.0 ** (1.0 / denominator) + 4.74) / 6.0
    return flagged(clay, f"{clay:.1f} % is far out on the published curve" if clay > 15.0 else "")


def dead_clay(afs_clay: float, active_clay: float) -> Outcome:
    """AFS clay that no longer takes up methylene blue, with the ash and combustibles that wash out with it.

    ``afs_clay - active_clay``

    afs_clay: AFS clay [% of dry sand]
    active_clay: active clay of the same sand [% of dry sand]
    returns: dead clay and other fine matter, an upper bound of the burnt clay [% of dry sand]

    Shapes: scalars.
    Validity: the combustibles are still in it (inert fines are without them); flagged when negative.
    Errors: InputError when an input is not a percentage.
    Example:
    >>> round(dead_clay(11.8, 8.0).value, 6)
    3.8

    Source: common_practice, difference of the two clays.
    """
    require(percentage("afs_clay", afs_clay), percentage("active_clay", active_clay))
    negative = "active clay exceeds AFS clay: the tests are not of the same sand, or one is wrong"
    return flagged(afs_clay - active_clay, negative if afs_clay < active_clay else "")
