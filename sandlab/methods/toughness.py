"""How the rammed sand resists wear, a fall and a probe: friability, shatter index, mould hardness."""

from __future__ import annotations

from sandlab.methods.outcome import Outcome, not_above, not_negative, percentage, positive, require


def friability(specimens_g: float, abraded_g: float) -> Outcome:
    """Sand rubbed off two standard specimens that roll against each other in a turning screen.

    ``100 abraded_g / specimens_g``

    specimens_g: both specimens before the test [g]
    abraded_g: sand that fell through the screen [g]
    returns: friability [%]

    Shapes: scalars.
    Validity: one minute; the time in open air before the test changes the number and has to stay the same.
    Errors: InputError when specimens_g is not above zero or abraded_g is negative or above it.
    Example:
    >>> round(friability(310.0, 31.0).value, 6)
    10.0

    Source: memory, loss in the tumbler over the initial weight.
    """
    require(
        positive("specimens_g", specimens_g),
        not_negative("abraded_g", abraded_g),
        not_above("abraded_g", abraded_g, "specimens_g", specimens_g),
    )
    return Outcome(100.0 * abraded_g / specimens_g)


def shatter_index(specimen_g: float, retained_g: float) -> Outcome:
    """Share of a specimen that stays on the sieve and the anvil after a fall.

    ``100 retained_g / specimen_g``

    specimen_g: standard specimen before the fall [g]
    retained_g: sand left on the sieve and the anvil [g]
    returns: shatter index [%]

    Shapes: scalars.
    Validity: fall of 1.84 m on a round anvil inside a sieve of 12 mm (1.85 m and 12.7 mm in tjfs).
    Errors: InputError when specimen_g is not above zero or retained_g is negative or above it.
    Example:
    >>> round(shatter_index(150.0, 120.0).value, 6)
    80.0

    Source: foundry_lexicon, entry "Shatter index".
    """
    require(
        positive("specimen_g", specimen_g),
        not_negative("retained_g", retained_g),
        not_above("retained_g", retained_g, "specimen_g", specimen_g),
    )
    return Outcome(100.0 * retained_g / specimen_g)


def mould_hardness(dial_reading: float) -> Outcome:
    """Hardness of a mould face at one place; the repeats of the method give the mean of several places.

    ``dial_reading``

    dial_reading: reading of the spring-loaded probe, 0 at full depth and 100 on glass [1]
    returns: mould hardness [1]

    Shapes: scalars.
    Validity: scales of different probes (ball, cone) cannot be compared; not near an edge of the mould.
    Errors: InputError when the reading is not within 0 and 100.
    Example:
    >>> mould_hardness(88.0).value
    88.0

    Source: common_practice, dial of 0 to 100.
    """
    require(percentage("dial_reading", dial_reading))
    return Outcome(dial_reading)
