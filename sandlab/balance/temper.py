"""Temper water: the moisture at which sand of a given composition reaches a given compactability."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sandlab.methods.mulling import equilibrium_moisture
from sandlab.methods.outcome import Outcome, flagged

SLOPE_PRIOR = 27.0  # points of compactability per 1 % moisture, sd 7; common practice 20-35
LEVEL_SD = 0.5  # % moisture, prior sd of the published level


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


def fitted_demand(fit: DemandFit, composition: Mapping[str, float], temperature: float) -> float:
    """Moisture demand by the plant's own fit.

    ``constant + clay a + fines f + carbon (v + k) + temperature max(0, T - reference_temperature)``

    fit: coefficients of the plant [%, -, %/C]
    composition: components of the prepared sand by name [% of dry]
    temperature: temperature of the prepared sand [C]
    returns: demand at the compactability of the fit [%]

    Shapes: scalars.
    Validity: the range of the data that was fitted.
    Errors: none.
    Example:
    >>> round(fitted_demand(DemandFit(constant=0.5, clay=0.4), {"active_clay": 8.0}, 30.0), 9)
    3.7

    Source: common_practice, a plant's own coefficients.
    """
    carbon = composition.get("volatiles", 0.0) + composition.get("fixed_carbon", 0.0)
    return (
        fit.constant
        + fit.clay * composition.get("active_clay", 0.0)
        + fit.fines * composition.get("inert_fines", 0.0)
        + fit.carbon * carbon
        + fit.temperature * max(0.0, temperature - fit.reference_temperature)
    )


def moisture_demand(
    composition: Mapping[str, float],
    compactability: float,
    fit: DemandFit | None = None,
    temperature: float = 20.0,
    slope: float = SLOPE_PRIOR,
) -> Outcome:
    """Moisture that a compactability needs: the plant's fit moved along the slope, else the published level.

    ``fitted_demand + (compactability - fit.compactability) / slope``, or the equilibrium moisture of the clay

    composition: components of the prepared sand by name [% of dry]
    compactability: compactability wanted [%]
    fit: coefficients of the plant, None takes the published level [%, -, %/C]
    temperature: temperature of the prepared sand, used by the fit [C]
    slope: points of compactability per 1 % moisture [1/%]
    returns: moisture on the moist basis [%]

    Shapes: scalars.
    Validity: the published level 7 to 11 % clay, flagged outside; it has a prior sd of 0.5 % moisture.
    Errors: InputError when clay or compactability is not a percentage.
    Example:
    >>> round(moisture_demand({"active_clay": 8.0}, 45.0).value, 3)
    3.903

    Source: icri610, p. 16; slope common_practice.
    """
    if fit is None:
        return equilibrium_moisture(composition.get("active_clay", 0.0), compactability)
    moisture = fitted_demand(fit, composition, temperature) + (compactability - fit.compactability) / slope
    dry = "the plant's own fit gives no moisture: fit it again"
    return flagged(max(0.0, moisture), "" if moisture > 0.0 else dry)
