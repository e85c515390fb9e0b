"""Temper water: the moisture at which sand of a given clay content reaches a given compactability."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sandlab.errors import impossible

SLOPE_PRIOR = 27.0  # points of compactability per 1 % moisture, sd 7; common practice 20-35
LEVEL_SD = 0.5  # % moisture, prior sd of the published level
BRANCH = 47.5  # % compactability where the published curve changes branch; the lower one holds there
CLAY_RANGE = (7.0, 11.0)  # % methylene-blue clay for which the curve was published


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


@dataclass(frozen=True, slots=True)
class Level:
    """A moisture level [% of moist]; `note` says why it is doubtful and is empty when it is not."""

    moisture: float
    note: str


def equilibrium_moisture(active_clay: float, compactability: float) -> Level:
    """Published moisture at which sand has a compactability.

    w = MB / (2.583 - 0.01185 CB) up to 47.5, above it w = MB / (3.213 - 0.02525 CB)

    active_clay: methylene-blue clay [% of dry], published for 7 to 11
    compactability: [%], above 0 and below 100
    Returns the level [% of moist], flagged outside the published range.

    Use it for the level only: its slope is steeper than plants see. There is a step of 0.3 % at 47.5.
    Example: equilibrium_moisture(8.0, 45.0).moisture is 3.903
    Source: icri610, p. 16.
    """
    if not (active_clay >= 0.0 and 0.0 < compactability < 100.0):
        raise impossible(
            "temper water",
            f"active clay {active_clay} % at compactability {compactability} % is not possible",
            "give clay of 0 % or more and a compactability between 0 and 100 %",
        )
    lower = compactability <= BRANCH
    divisor = 2.583 - 0.01185 * compactability if lower else 3.213 - 0.02525 * compactability
    note = ""
    if not CLAY_RANGE[0] <= active_clay <= CLAY_RANGE[1]:
        note = f"active clay {active_clay:.1f} % lies outside the published 7 to 11 %: fit the plant's demand"
    return Level(moisture=active_clay / divisor, note=note)


def fitted_demand(fit: DemandFit, composition: Mapping[str, float], temperature: float) -> float:
    """Moisture demand by the plant's own fit: c0 + ca a + cf f + cv (v + k) + cT max(0, T - T0).

    fit: the plant's coefficients
    composition: of the prepared sand [% of dry]
    temperature: of the prepared sand [C]
    Returns the demand at the fit's compactability [% of moist].

    Example: fitted_demand(DemandFit(constant=0.5, clay=0.4), {"active_clay": 8.0}, 30.0) == 3.7
    Source: plant values; the form is common_practice.
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
    *,
    fit: DemandFit | None = None,
    temperature: float = 20.0,
    slope: float = SLOPE_PRIOR,
) -> Level:
    """Moisture that a compactability needs: the plant's fit moved along the slope, else the published level.

    composition: of the prepared sand [% of dry]
    compactability: wanted [%]
    fit: the plant's own fit, None takes the published level
    temperature: of the prepared sand, used by the fit [C]
    slope: points of compactability per 1 % moisture [1/%]
    Returns the level [% of moist], flagged where the published curve does not reach.

    Example: moisture_demand({"active_clay": 8.0}, 45.0).moisture is 3.903
    Source: icri610, p. 16; slope common_practice.
    """
    if fit is None:
        return equilibrium_moisture(composition.get("active_clay", 0.0), compactability)
    moisture = fitted_demand(fit, composition, temperature) + (compactability - fit.compactability) / slope
    note = "" if moisture > 0.0 else "the plant's own fit gives no moisture; fit it again"
    return Level(moisture=max(0.0, moisture), note=note)
