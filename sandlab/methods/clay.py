"""Clay of the dried sand: active clay by methylene blue, AFS clay by washing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sandlab.methods.calibration import calibrate_methylene_blue, read_mixes
from sandlab.methods.outcome import Outcome, finite, flagged, not_above, not_negative, positive, require


def methylene_blue_clay(
    titre_ml: float,
    sample_g: float,
    calibration_sample_g: float,
    ml_per_percent: float,
    intercept_ml: float,
) -> Outcome:
    """Active clay from the titre and the factor of the lab's own calibration.

    ``(titre_ml - intercept_ml) / ml_per_percent * calibration_sample_g / sample_g``

    titre_ml: methylene blue solution used up to the lasting halo [ml]
    sample_g: dried sand weighed in [g]
    calibration_sample_g: mass of sand to which the factor belongs [g]
    ml_per_percent: solution per % of clay at that mass, the slope of the calibration [ml/%]
    intercept_ml: titre of clay-free sand, 0 for a line through zero [ml]
    returns: active clay on the scale of the calibration bentonite [% of dry sand]

    Shapes: scalars.
    Validity: solution and bentonite of the calibration; flagged when the titre is below the intercept.
    Errors: InputError when the titre is negative, a mass or the factor is not above zero.
    Example:
    >>> round(methylene_blue_clay(40.0, 5.0, 5.0, 5.35, 0.0).value, 2)
    7.48

    Source: mb_instruction, titre over reference factor.
    """
    require(
        not_negative("titre_ml", titre_ml),
        positive("sample_g", sample_g),
        positive("calibration_sample_g", calibration_sample_g),
        positive("ml_per_percent", ml_per_percent),
        finite("intercept_ml", intercept_ml),
    )
    clay = (titre_ml - intercept_ml) / ml_per_percent * calibration_sample_g / sample_g
    below = f"titre {titre_ml:g} ml is below the {intercept_ml:g} ml of clay-free sand: titrate again"
    return flagged(clay, below if titre_ml < intercept_ml else "")


def methylene_blue_mixes(
    titre_ml: float, sample_g: float, mixes: Sequence[Mapping[str, Any]], through_zero: bool
) -> Outcome:
    """Active clay from the titre and the calibration mixes themselves.

    ``100 (titre_ml - intercept) / (slope sample_g)``, slope and intercept by calibrate_methylene_blue

    titre_ml: methylene blue solution used up to the lasting halo [ml]
    sample_g: dried sand weighed in [g]
    mixes: tables of nominal_percent, basis, mass_g and titre_ml [%, text, g, ml]
    through_zero: whether the line is drawn through zero [true or false]
    returns: active clay on the scale of the calibration bentonite [% of dry sand]

    Shapes: mixes (n,), n at least 2.
    Validity: flagged outside the clay of the mixes, and where the calibration itself is.
    Errors: InputError when a reading is impossible or the mixes give no line.
    Example:
    >>> mixes = [
    ...     {"nominal_percent": 6.0, "basis": "share of the whole", "mass_g": 5.0, "titre_ml": 30.0},
    ...     {"nominal_percent": 10.0, "basis": "share of the whole", "mass_g": 5.0, "titre_ml": 50.0},
    ... ]
    >>> round(methylene_blue_mixes(40.0, 5.0, mixes, True).value, 3)
    8.0

    Source: mb_instruction, calibration mix.
    """
    require(not_negative("titre_ml", titre_ml), positive("sample_g", sample_g))
    read = read_mixes(mixes)
    line = calibrate_methylene_blue(read, sample_g=sample_g, through_zero=through_zero)
    clay = (titre_ml - line.intercept_ml) / line.ml_per_percent
    held = [100.0 * mix.clay_g / sample_g for mix in read]
    outside = f"{clay:.2f} % is outside the mixes of the calibration ({min(held):.2f} to {max(held):.2f} %)"
    return flagged(clay, "" if min(held) <= clay <= max(held) else outside, *line.flags)


def methylene_blue_uptake(
    titre_ml: float, sample_g: float, solution_g_l: float, uptake_mg_g: float
) -> Outcome:
    """Active clay from the strength of the solution and the certified uptake of the bentonite.

    ``100 titre_ml solution_g_l / (uptake_mg_g sample_g)``

    titre_ml: methylene blue solution used up to the lasting halo [ml]
    sample_g: dried sand weighed in [g]
    solution_g_l: methylene blue in the solution [g/L]
    uptake_mg_g: methylene blue taken up by one gram of the bentonite [mg/g]
    returns: active clay on the scale of that bentonite [% of dry sand]

    Shapes: scalars.
    Validity: certificate and titration use the same end point; a calibration mix is the surer way.
    Errors: InputError when the titre is negative or another input is not above zero.
    Example:
    >>> round(methylene_blue_uptake(40.0, 5.0, 3.739, 400.0).value, 2)
    7.48

    Source: foundry_lexicon, methylene blue values of bentonite; solution of mb_instruction.
    """
    require(
        not_negative("titre_ml", titre_ml),
        positive("sample_g", sample_g),
        positive("solution_g_l", solution_g_l),
        positive("uptake_mg_g", uptake_mg_g),
    )
    return Outcome(100.0 * titre_ml * solution_g_l / (uptake_mg_g * sample_g))


def afs_clay(dry_g: float, residue_g: float) -> Outcome:
    """Clay and other fine matter that washes out of the dried sand.

    ``100 (dry_g - residue_g) / dry_g``

    dry_g: dried sand before washing [g]
    residue_g: dried residue after washing and siphoning [g]
    returns: AFS clay: active and dead clay, ash and fine combustibles together [% of dry sand]

    Shapes: scalars.
    Validity: particles that settle slower than 25 mm/min; 50 g sample.
    Errors: InputError when dry_g is not above zero or residue_g is negative or above dry_g.
    Example:
    >>> round(afs_clay(50.0, 44.1).value, 1)
    11.8

    Source: tjfs, clay by washing, test 202.
    """
    require(
        positive("dry_g", dry_g),
        not_negative("residue_g", residue_g),
        not_above("residue_g", residue_g, "dry_g", dry_g),
    )
    return Outcome(100.0 * (dry_g - residue_g) / dry_g)
