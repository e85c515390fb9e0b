"""What burns or leaves on heating: loss on ignition, volatiles, fixed carbon."""

from __future__ import annotations

from sandlab.errors import Problem
from sandlab.methods.outcome import (
    Outcome,
    finite,
    flagged,
    not_above,
    percentage,
    positive,
    require,
)


def loss_on_ignition(crucible_g: float, sample_crucible_g: float, ignited_crucible_g: float) -> Outcome:
    """Everything that burns or leaves in the furnace: volatiles, fixed carbon, bound water of the clay.

    ``100 (sample_crucible_g - ignited_crucible_g) / (sample_crucible_g - crucible_g)``

    crucible_g: empty crucible, fired before [g]
    sample_crucible_g: crucible with the dried sand [g]
    ignited_crucible_g: crucible with the ignited sand, cooled in a desiccator [g]
    returns: loss on ignition [% of dry sand]

    Shapes: scalars.
    Validity: temperature and time belong to the method (UK 1000 C for 90 min, AFS 982 C for 2 h); a negative
    result is flagged and not refused, since metal in the sand gains mass.
    Errors: InputError when a weight is not above zero, the sample is empty, or more is lost than was there.
    Example:
    >>> round(loss_on_ignition(30.0, 40.0, 39.6).value, 6)
    4.0

    Source: samsa_loi, loss-on-ignition test.
    """
    require(*_crucible_problems(crucible_g, sample_crucible_g, "ignited_crucible_g", ignited_crucible_g))
    loss = 100.0 * (sample_crucible_g - ignited_crucible_g) / (sample_crucible_g - crucible_g)
    gained = "the sample gained mass: metal in the sand, or exchanged weights"
    return flagged(loss, gained if loss < 0.0 else "")


def volatiles(crucible_g: float, sample_crucible_g: float, heated_crucible_g: float) -> Outcome:
    """Matter that leaves as gas at the temperature of the method.

    ``100 (sample_crucible_g - heated_crucible_g) / (sample_crucible_g - crucible_g)``

    crucible_g: empty crucible, fired before [g]
    sample_crucible_g: crucible with the dried sand [g]
    heated_crucible_g: crucible after heating [g]
    returns: volatiles [% of dry sand]

    Shapes: scalars.
    Validity: 482 C, 650 C and 900 C (7 min, covered) give different numbers that cannot replace each other;
    the method is stored with the result. A negative result is flagged.
    Errors: InputError when a weight is not above zero, the sample is empty, or more is lost than was there.
    Example:
    >>> round(volatiles(30.0, 40.0, 39.85).value, 6)
    1.5

    Source: tjfs, test 208.
    """
    require(*_crucible_problems(crucible_g, sample_crucible_g, "heated_crucible_g", heated_crucible_g))
    loss = 100.0 * (sample_crucible_g - heated_crucible_g) / (sample_crucible_g - crucible_g)
    gained = "the sample gained mass: exchanged weights, or a damp crucible"
    return flagged(loss, gained if loss < 0.0 else "")


def _crucible_problems(crucible: float, filled: float, name: str, heated: float) -> list[Problem | None]:
    """What is impossible about three weighings of a crucible."""
    empty = positive("sample_crucible_g - crucible_g", filled - crucible)
    return [
        positive("crucible_g", crucible),
        positive("sample_crucible_g", filled) or empty,
        positive(name, heated) or not_above("crucible_g", crucible, name, heated),
    ]


def fixed_carbon(
    loss_on_ignition: float, volatiles: float, active_clay: float, clay_bound_water: float
) -> Outcome:
    """Carbon that stays as coke in the sand.

    ``loss_on_ignition - volatiles - clay_bound_water/100 active_clay``

    loss_on_ignition: loss on ignition [% of dry sand]
    volatiles: volatiles of the same sand [% of dry sand]
    active_clay: active clay of the same sand [% of dry sand]
    clay_bound_water: water of the clay that ignition drives off and the volatiles test does not [% of clay]
    returns: fixed carbon [% of dry sand]

    Shapes: scalars.
    Validity: clay_bound_water is 0 where the volatiles were driven off at a heat that dehydroxylates the clay
    (900 C); flagged when negative.
    Errors: InputError when an input is not finite, or volatiles or clay are not a percentage.
    Example:
    >>> round(fixed_carbon(3.76, 1.15, 7.5, 5.5).value, 1)
    2.2

    Source: tjfs, test 209; bound water derived.
    """
    require(
        finite("loss_on_ignition", loss_on_ignition),
        finite("volatiles", volatiles),
        percentage("active_clay", active_clay),
        percentage("clay_bound_water", clay_bound_water),
    )
    carbon = loss_on_ignition - volatiles - clay_bound_water / 100.0 * active_clay
    negative = "fixed carbon is negative: the tests are not of the same sand, or one is wrong"
    return flagged(carbon, negative if carbon < 0.0 else "")


def inert_fines(
    afs_clay: float, active_clay: float, volatiles: float, fixed_carbon: float, washed_share: float
) -> Outcome:
    """Fine matter that neither bonds nor burns: dead clay, ash, broken grain.

    ``afs_clay - active_clay - washed_share/100 (volatiles + fixed_carbon)``

    afs_clay: AFS clay [% of dry sand]
    active_clay: active clay of the same sand [% of dry sand]
    volatiles: volatiles of the same sand [% of dry sand]
    fixed_carbon: fixed carbon of the same sand [% of dry sand]
    washed_share: share of the combustibles that washes out with the AFS clay [%]
    returns: inert fines [% of dry sand]

    Shapes: scalars.
    Validity: washed_share belongs to the plant; flagged when the result is negative.
    Errors: InputError when an input is not finite, or a clay or the share is not a percentage.
    Example:
    >>> round(inert_fines(11.8, 8.0, 1.6, 1.4, 50.0).value, 6)
    2.3

    Source: derived, balance of the fine matter.
    """
    require(
        percentage("afs_clay", afs_clay),
        percentage("active_clay", active_clay),
        finite("volatiles", volatiles),
        finite("fixed_carbon", fixed_carbon),
        percentage("washed_share", washed_share),
    )
    fines = afs_clay - active_clay - washed_share / 100.0 * (volatiles + fixed_carbon)
    negative = "inert fines are negative: the tests are not of the same sand, or one is wrong"
    return flagged(fines, negative if fines < 0.0 else "")
