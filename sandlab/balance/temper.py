"""Temper water: the moisture at which sand of a given clay content reaches a given compactability."""

from __future__ import annotations

from dataclasses import dataclass

SLOPE_PRIOR = 27.0


@dataclass(frozen=True, slots=True)
class DemandFit:
    """A plant's own fit of the moisture demand at its target compactability.

    demand = constant + clay a + fines f + carbon (v + k) + temperature max(0, T - reference_temperature)

    constant: [% of moist]
    clay, fines, carbon: moisture per 1 % of the component [-]
    temperature: moisture per degree above the reference [%/C]
    reference_temperature: [C]
    compactability: the compactability it was fitted at [%]
    """

    constant: float
    clay: float
    fines: float = 0.0
    carbon: float = 0.0
    temperature: float = 0.0
    reference_temperature: float = 40.0
    compactability: float = 40.0
