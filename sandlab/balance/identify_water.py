"""What drinks water in a plant's sand: coefficients of the moisture demand and the slope, from its tests."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from sandlab.balance.composition import Floats
from sandlab.balance.fit_limits import fit_sds
from sandlab.balance.log import Log
from sandlab.balance.temper import DemandFit, fitted_demand
from sandlab.balance.water_filter import BATCH_SCATTER, HIGHEST_SLOPE, LOWEST_SLOPE, SLOPE_SD
from sandlab.balance.watering import PER_CARBON, PER_CLAY, PER_FINES

# Priors of one coefficient: sd in % moisture per 1 % of the component, and per C above the reference.
LEVEL_SD, CLAY_SD, CARBON_SD, FINES_SD, WARMTH_SD = 0.5, 0.12, 0.07, 0.06, 0.015
REFERENCE_C = 40.0
LEAST_SAMPLES = 10
KNOWN = 0.7  # of the prior sd: what is left wider than this was not identified
NAMES = (
    ("demand_level", "% moisture"),
    ("demand_clay", "% moisture per 1 %"),
    ("demand_carbon", "% moisture per 1 %"),
    ("demand_fines", "% moisture per 1 %"),
    ("demand_temperature", "% moisture per C"),
    ("slope", "points per 1 % moisture"),
)


@dataclass(frozen=True, slots=True)
class WaterSample:
    """Moisture and compactability of one sample, with the sand that the balance puts there.

    prepared, prepared_sd: components of prepared sand and their sd, shape (4,) [% of dry]
    temperature: of the sample, None when it was not measured [C]
    block: samples of one block of days may err together [-]
    """

    moisture: float
    compactability: float
    prepared: Floats
    prepared_sd: Floats
    temperature: float | None
    block: int


@dataclass(frozen=True, slots=True)
class WaterFit:
    """Values in the order of NAMES, their sd, what was assumed before and its sd; misfit in their own sd."""

    values: Floats
    sds: Floats
    start: Floats
    prior: Floats
    samples: int
    misfit: float


def fit_water(
    log: Log, samples: Sequence[WaterSample], *, tick: Callable[[], None] = lambda: None
) -> WaterFit | None:
    """The moisture demand and its slope by least squares on samples; None when there are too few.

    ``compactability = target + slope (moisture - demand)`` with noise in both: each residual is divided by
    ``sqrt(sd_c^2 + slope^2 (sd_w^2 + sd_x^2))``, so that a noisy moisture test does not flatten the slope.
    sd_x is the moisture that the doubtful composition leaves open. How much of it changes from sample to
    sample nobody knows, none or all: the values lie half way between the two fits, and half their difference
    is added to the sd, as is how far that doubt may flatten a coefficient. The level is the demand of the
    samples' mean sand. Each value has its prior as one more equation; samples of one block may err together.
    """
    if len(samples) < LEAST_SAMPLES:
        return None
    drinks = np.array([_drinks(one) for one in samples])
    start = _prior(log, drinks.mean(axis=0))
    prior = np.array([LEVEL_SD, CLAY_SD, CARBON_SD, FINES_SD, WARMTH_SD, SLOPE_SD])
    doubt = np.array([_doubt(one) for one in samples]) ** 2 @ start[1:4] ** 2
    none = _search(log, samples, start, prior, np.zeros(len(samples)), tick)
    every = _search(log, samples, start, prior, doubt, tick)
    values, between = (none[0] + every[0]) / 2.0, np.abs(none[0] - every[0]) / 2.0
    sds = np.hypot(np.maximum(none[1], every[1]), between)
    sds[1:4] = np.hypot(sds[1:4], start[1:4] * _flattening(samples, drinks))
    misfit = max(none[2], every[2])
    return WaterFit(values, np.minimum(sds, prior), start, prior, len(samples), misfit)


def _search(
    log: Log,
    samples: Sequence[WaterSample],
    start: Floats,
    prior: Floats,
    doubt: Floats,
    tick: Callable[[], None],
) -> tuple[Floats, Floats, float]:
    """One fit: values, their sd, and the root-mean-square of the residuals in their own sd."""
    from scipy.optimize import least_squares

    target = next(t.target for t in log.plant.targets if t.property == "compactability")
    drinks = np.array([_drinks(one) for one in samples])
    drinks = drinks - drinks.mean(axis=0)
    moisture = np.array([one.moisture for one in samples])
    over = np.array([one.compactability for one in samples]) - target
    compact, wet = _noises(log)

    def lacking(free: Floats) -> Floats:
        tick()
        values = start + prior * free
        slope = min(max(values[-1], LOWEST_SLOPE), HIGHEST_SLOPE)
        demand = values[0] + drinks @ values[1:-1]
        spread = np.sqrt(compact**2 + slope**2 * (wet**2 + doubt))
        # a result far out is bounded, as the filter's gate does
        return np.concatenate([np.clip((over - slope * (moisture - demand)) / spread, -4.0, 4.0), free])

    # bounded residuals give no direction far off, so the search begins at the level that the samples have
    begin = np.zeros(prior.size)
    begin[0] = (float(np.median(moisture - over / start[-1])) - start[0]) / prior[0]
    solved = least_squares(lacking, begin, xtol=1e-6)
    residuals = np.asarray(solved.fun, dtype=np.float64)[: len(samples)]
    jacobian = np.asarray(solved.jac, dtype=np.float64)[: len(samples)]
    sds = fit_sds(jacobian, residuals, [one.block for one in samples]) * prior
    return start + prior * np.asarray(solved.x), sds, sqrt(float(np.mean(residuals**2)))


def demand_of(fit: WaterFit, mean: Floats, target: float) -> DemandFit:
    """The fit as a plant's own demand; a coefficient that it does not tell stays as it was assumed.

    mean: sand of the samples: clay, carbon, fines [% of dry] and degrees above the reference, shape (4,)
    """
    told = fit.sds < KNOWN * fit.prior
    level, clay, carbon, fines, warmth, _ = np.where(told, fit.values, fit.start).tolist()
    level = float(fit.values[0])
    constant = level - clay * mean[0] - carbon * mean[1] - fines * mean[2] - warmth * mean[3]
    return DemandFit(float(constant), clay, fines, carbon, warmth, REFERENCE_C, target)


def mean_sand(samples: Sequence[WaterSample]) -> Floats:
    """Mean clay, carbon, fines [%] and excess temperature [C] of samples, shape (4,)."""
    return np.asarray(np.mean([_drinks(one) for one in samples], axis=0))


def _drinks(sample: WaterSample) -> list[float]:
    """Clay, carbon and fines, and degrees above the reference."""
    a, v, k, f = sample.prepared.tolist()
    warm = 0.0 if sample.temperature is None else max(0.0, sample.temperature - REFERENCE_C)
    return [a, v + k, f, warm]


def _flattening(samples: Sequence[WaterSample], drinks: Floats) -> Floats:
    """Share by which doubt of clay, carbon and fines may flatten their coefficients, shape (3,)."""
    doubt = np.mean([np.square(_doubt(one)) for one in samples], axis=0)
    return np.asarray(doubt / np.maximum(drinks[:, :3].var(axis=0) + doubt, 1e-12))


def _doubt(sample: WaterSample) -> list[float]:
    """Sd of clay, of carbon and of fines."""
    a, v, k, f = sample.prepared_sd.tolist()
    return [a, sqrt(v * v + k * k), f]


def _prior(log: Log, mean: Floats) -> Floats:
    """What the plant assumes before: its own fit, else usual coefficients at the published level."""
    from sandlab.balance.temper import moisture_demand

    plant = log.plant
    target = next(t.target for t in plant.targets if t.property == "compactability")
    fit = plant.demand
    if fit is None:
        level = moisture_demand({"active_clay": float(mean[0])}, target).value
        return np.array([level, PER_CLAY, PER_CARBON, PER_FINES, 0.0, plant.slope])
    sand = {"active_clay": mean[0], "volatiles": mean[1], "inert_fines": mean[2]}
    level = fitted_demand(fit, sand, fit.reference_temperature + float(mean[3]))
    level += (target - fit.compactability) / plant.slope
    return np.array([level, fit.clay, fit.carbon, fit.fines, fit.temperature, plant.slope])


def _noises(log: Log) -> tuple[float, float]:
    """Noise of compactability and of moisture, with what one batch scatters."""
    compactability, moisture = log.plant.lab("compactability"), log.plant.lab("moisture")
    wet = moisture.sd if moisture else 0.06
    return (compactability.sd if compactability else 1.2), sqrt(wet**2 + BATCH_SCATTER**2)
