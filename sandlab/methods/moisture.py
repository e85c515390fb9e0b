"""Moisture by drying."""

from __future__ import annotations

from sandlab.methods.outcome import Outcome, not_above, not_negative, positive, require


def moisture(moist_g: float, dry_g: float) -> Outcome:
    """Moisture of sand, on the moist sample (not on the dry sand).

    ``100 (moist_g - dry_g) / moist_g``

    moist_g: sample as taken [g]
    dry_g: the same sample dried to constant mass [g]
    returns: moisture of the moist sample [%]

    Shapes: scalars.
    Validity: dried at 105 +/- 5 C until two weighings agree; 50 g sample.
    Errors: InputError when moist_g is not above zero or dry_g is negative or above moist_g.
    Example:
    >>> moisture(50.0, 40.0).value
    20.0

    Source: tjfs, test 201.
    """
    require(
        positive("moist_g", moist_g),
        not_negative("dry_g", dry_g),
        not_above("dry_g", dry_g, "moist_g", moist_g),
    )
    return Outcome(100.0 * (moist_g - dry_g) / moist_g)


def moisture_in_dish(dish_g: float, moist_dish_g: float, dry_dish_g: float) -> Outcome:
    """Moisture of sand that is weighed in its dish.

    ``100 (moist_dish_g - dry_dish_g) / (moist_dish_g - dish_g)``

    dish_g: empty, dry dish [g]
    moist_dish_g: dish with the sample as taken [g]
    dry_dish_g: dish with the dried sample [g]
    returns: moisture of the moist sample [%]

    Shapes: scalars.
    Validity: as for the sample weighed alone.
    Errors: InputError when the weights do not fall in the order moist_dish_g, dry_dish_g, dish_g.
    Example:
    >>> moisture_in_dish(20.0, 70.0, 60.0).value
    20.0

    Source: tjfs, test 201.
    """
    require(
        positive("dish_g", dish_g),
        positive("moist_dish_g - dish_g", moist_dish_g - dish_g),
        not_above("dish_g", dish_g, "dry_dish_g", dry_dish_g),
        not_above("dry_dish_g", dry_dish_g, "moist_dish_g", moist_dish_g),
    )
    return moisture(moist_dish_g - dish_g, dry_dish_g - dish_g)
