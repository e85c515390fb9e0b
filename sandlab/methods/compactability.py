"""Compactability: how far loose sand falls under three rams."""

from __future__ import annotations

from sandlab.methods.outcome import Outcome, not_above, positive, require


def compactability(tube_height_mm: float, rammed_height_mm: float) -> Outcome:
    """Compactability of sand screened into a tube, struck off and rammed three times.

    ``100 (tube_height_mm - rammed_height_mm) / tube_height_mm``

    tube_height_mm: height of the loose, struck-off fill [mm]
    rammed_height_mm: height after three rams [mm]
    returns: fall in height [%]

    Shapes: scalars.
    Validity: sand tested at once, screened without pressing; moisture and temperature of the moment.
    Errors: InputError when a height is not above zero or the rammed height exceeds the tube.
    Example:
    >>> compactability(120.0, 72.0).value
    40.0

    Source: tjfs, compactability by three rams; tube of 120 mm from memory.
    """
    require(
        positive("tube_height_mm", tube_height_mm),
        positive("rammed_height_mm", rammed_height_mm),
        not_above("rammed_height_mm", rammed_height_mm, "tube_height_mm", tube_height_mm),
    )
    return Outcome(100.0 * (tube_height_mm - rammed_height_mm) / tube_height_mm)
