"""Indices of mulling and of the water the sand asks for."""

from __future__ import annotations

from sandlab.errors import Problem
from sandlab.methods.outcome import Outcome, flagged, not_above, not_negative, percentage, positive, require

BRANCH_COMPACTABILITY = 47.5
EQUILIBRIUM_CLAY = (7.0, 11.0)
FULL_MULL_MIN = 10.0
FULL_MULL_COMPACTABILITY = 5.0


def mulling_efficiency(working_bond: float, available_bond: float) -> Outcome:
    """Share of the available bond that the muller has brought to work.

    ``100 working_bond / available_bond``

    working_bond: working bond [%]
    available_bond: available bond of the same sample [%]
    returns: mulling efficiency [%]

    Shapes: scalars.
    Validity: flagged above 100 %, where strength, moisture and compactability do not fit together.
    Errors: InputError when the working bond is negative or the available bond is not above zero.
    Example:
    >>> mulling_efficiency(3.0, 6.0).value
    50.0

    Source: honeyman2014, p. 29.
    """
    require(not_negative("working_bond", working_bond), positive("available_bond", available_bond))
    above = "above 100 %: check strength and moisture" if working_bond > available_bond else ""
    return flagged(100.0 * working_bond / available_bond, above)


def remulled_efficiency(
    gcs_kpa: float,
    compactability: float,
    moisture: float,
    remulled_gcs_kpa: float,
    remulled_compactability: float,
    remulled_moisture: float,
    remull_min: float,
) -> Outcome:
    """Mulling efficiency against the same sand mulled to the end in a laboratory muller.

    ``100 (GCS compactability / moisture) / (the same after remulling)``

    gcs_kpa: green compression strength of the production sand [kPa]
    compactability: its compactability [%]
    moisture: its moisture [%]
    remulled_gcs_kpa: green compression strength after remulling [kPa]
    remulled_compactability: compactability after remulling [%]
    remulled_moisture: moisture after remulling [%]
    remull_min: time in the laboratory muller [min]
    returns: mulling efficiency [%]

    Shapes: scalars.
    Validity: remulled for more than 10 min, compactability within 5 of the production sand; else flagged.
    Errors: InputError when a reading is not above zero or not a percentage.
    Example:
    >>> remulled_efficiency(120.0, 40.0, 3.0, 150.0, 40.0, 3.0, 12.0).value
    80.0

    Source: tjfs, test 108.
    """
    require(
        positive("gcs_kpa", gcs_kpa),
        positive("compactability", compactability) or percentage("compactability", compactability),
        positive("moisture", moisture) or percentage("moisture", moisture),
        positive("remulled_gcs_kpa", remulled_gcs_kpa),
        positive("remulled_compactability", remulled_compactability)
        or percentage("remulled_compactability", remulled_compactability),
        positive("remulled_moisture", remulled_moisture)
        or percentage("remulled_moisture", remulled_moisture),
        not_negative("remull_min", remull_min),
    )
    production = gcs_kpa * compactability / moisture
    remulled = remulled_gcs_kpa * remulled_compactability / remulled_moisture
    short = f"remulled for {remull_min:g} min: more than {FULL_MULL_MIN:g} are needed"
    apart = f"compactability moved by more than {FULL_MULL_COMPACTABILITY:g} in remulling: add the water lost"
    moved = abs(remulled_compactability - compactability) > FULL_MULL_COMPACTABILITY
    return flagged(
        100.0 * production / remulled, short if remull_min <= FULL_MULL_MIN else "", apart if moved else ""
    )


def equilibrium_moisture(active_clay: float, compactability: float) -> Outcome:
    """Moisture that sand of this clay needs for this compactability.

    ``active_clay / (2.583 - 0.01185 compactability)`` up to 47.5,
    ``active_clay / (3.213 - 0.02525 compactability)`` above

    active_clay: active clay by methylene blue [% of dry sand]
    compactability: compactability wanted [%]
    returns: moisture of the moist sample [%]

    Shapes: scalars.
    Validity: active clay 7 to 11 %, flagged outside; the upper branch starts 0.3 % of its value higher at
    47.5, where the lower one holds. Use the level, not the slope.
    Errors: InputError when an input is not a percentage.
    Example:
    >>> round(equilibrium_moisture(8.0, 45.0).value, 3)
    3.903

    Source: icri610, p. 16.
    """
    require(percentage("active_clay", active_clay), percentage("compactability", compactability))
    low, high = EQUILIBRIUM_CLAY
    outside = f"active clay {active_clay:g} % is outside {low:g} to {high:g} %, where the curve was measured"
    if compactability <= BRANCH_COMPACTABILITY:
        needed = active_clay / (2.583 - 0.01185 * compactability)
    else:
        needed = active_clay / (3.213 - 0.02525 * compactability)
    return flagged(needed, "" if low <= active_clay <= high else outside)


def water_sensitivity(
    moisture: float, compactability: float, wetter_moisture: float, wetter_compactability: float
) -> Outcome:
    """Moisture that moves the compactability by ten points.

    ``10 (wetter_moisture - moisture) / (wetter_compactability - compactability)``

    moisture: moisture of the first half of the sample [%]
    compactability: its compactability [%]
    wetter_moisture: moisture of the half mulled with 1 % more water [%]
    wetter_compactability: its compactability [%]
    returns: moisture per ten points of compactability [%]

    Shapes: scalars.
    Validity: both halves mulled for 10 min; flagged when compactability fell, on the wet side of its peak.
    Errors: InputError when an input is not a percentage, the second half is not wetter, or the compactability
    did not move.
    Example:
    >>> water_sensitivity(3.0, 38.0, 4.0, 58.0).value
    0.5

    Source: tjfs, test 109.
    """
    require(
        percentage("moisture", moisture),
        percentage("compactability", compactability),
        percentage("wetter_moisture", wetter_moisture)
        or not_above("moisture", moisture, "wetter_moisture", wetter_moisture),
        percentage("wetter_compactability", wetter_compactability),
    )
    rise = wetter_compactability - compactability
    what, do = "compactability is the same in both halves", "add more water to the second half"
    require(Problem("wetter_compactability", what, do) if rise == 0.0 else None)
    fell = "compactability fell with more water: the sand is on the wet side of its peak"
    return flagged(10.0 * (wetter_moisture - moisture) / rise, fell if rise < 0.0 else "")


def moisture_compactability_ratio(moisture: float, compactability: float) -> Outcome:
    """Moisture per point of compactability; it rises with everything that drinks water without bonding.

    ``moisture / compactability``

    moisture: moisture of the moist sample [%]
    compactability: compactability of the same sample [%]
    returns: ratio, about 0.08 in ordinary sand [1]

    Shapes: scalars.
    Validity: moisture and compactability of the same sample.
    Errors: InputError when an input is not a percentage or the compactability is zero.
    Example:
    >>> moisture_compactability_ratio(3.2, 40.0).value
    0.08

    Source: common_practice, ratio of about 0.08.
    """
    require(
        percentage("moisture", moisture),
        positive("compactability", compactability) or percentage("compactability", compactability),
    )
    return Outcome(moisture / compactability)
