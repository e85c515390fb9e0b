"""One pass of the sand: muller, mould, pour, shakeout, cooling and dust extraction, storage, muller."""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import exp, log

import numpy as np
import numpy.typing as npt

from sandlab.balance.composition import Floats, composition_problems
from sandlab.errors import Problem, impossible

_CORE_KEYS = ("core_active_clay", "core_volatiles", "core_fixed_carbon", "core_inert_fines")
GREATEST_BURN = 0.95  # share of a component that one cycle can burn in this model
DOUBTFUL_BURN = 0.5


@dataclass(frozen=True, slots=True)
class Loop:
    """One pass round the system; start values are the plant's. Shares lie between 0 and 1.

    sand_to_metal: dry sand in the mould per metal poured [kg/kg]
    core_sand_t_per_t: core sand per metal poured [t/t]
    core_retention: share of the core sand that stays in the system [-]
    spill: share of the sand that returns unpoured, hence unburnt [-]
    clay_wear_factor: active clay lost per 100 kg metal and per 1 % content [kg]
    carbon_wear_factor: volatiles lost per 100 kg metal and per 1 % content [kg]
    fixed_carbon_wear_factor: the same of fixed carbon; None takes carbon_wear_factor [kg]
    bound_water: water bound in the clay, gone when it burns [share of the clay]
    burnt_clay_to_fines: share of the burnt clay that becomes fines; the rest bakes on the grain [-]
    coke_yield: fixed carbon left by burnt volatiles [-]
    volatiles_ash: inert fines left by burnt volatiles [-]
    carbon_ash: inert fines left by burnt fixed carbon [-]
    dust_active_clay, dust_volatiles, dust_fixed_carbon, dust_inert_fines, dust_grain: share of each
        extracted with the dust in one cycle [-]
    core_active_clay, core_volatiles, core_fixed_carbon, core_inert_fines: core sand as it enters
        the return sand, the rest is grain [% of dry]
    """

    sand_to_metal: float
    core_sand_t_per_t: float = 0.0
    core_retention: float = 1.0
    spill: float = 0.0
    clay_wear_factor: float = 0.33
    carbon_wear_factor: float = 1.1
    fixed_carbon_wear_factor: float | None = None
    bound_water: float = 0.055
    burnt_clay_to_fines: float = 0.6
    coke_yield: float = 0.2
    volatiles_ash: float = 0.0
    carbon_ash: float = 0.0
    dust_active_clay: float = 0.0
    dust_volatiles: float = 0.0
    dust_fixed_carbon: float = 0.0
    dust_inert_fines: float = 0.0
    dust_grain: float = 0.0
    core_active_clay: float = 0.0
    core_volatiles: float = 0.0
    core_fixed_carbon: float = 0.0
    core_inert_fines: float = 0.0

    @property
    def core(self) -> Floats:
        """Components of the core sand in the order of COMPONENTS [% of dry]."""
        return np.array(
            [self.core_active_clay, self.core_volatiles, self.core_fixed_carbon, self.core_inert_fines]
        )


@dataclass(frozen=True, slots=True)
class Cycle:
    """One pass per 100 kg of dry prepared sand; it closes: 100 + core = returned + gas + dust.

    composition: of the return sand, shape (..., 4) [% of dry]
    without_core: the same before core sand dilutes it, shape (..., 4) [% of dry]
    returned_kg, core_kg, gas_kg, dust_kg: masses, shape (...) [kg]
    burnt_kg: what was lost of each component by burning, shape (..., 4) [kg]
    """

    composition: Floats
    without_core: Floats
    returned_kg: Floats
    core_kg: float
    gas_kg: Floats
    dust_kg: Floats
    burnt_kg: Floats


def loop_problems(loop: Loop) -> list[Problem]:
    """Everything that makes a loop impossible."""
    problems = []
    kilograms = {"clay_wear_factor", "carbon_wear_factor", "fixed_carbon_wear_factor", "core_sand_t_per_t"}
    for item in fields(loop):
        value = getattr(loop, item.name)
        if value is None or item.name in _CORE_KEYS:
            continue
        highest = 100.0 if item.name in kilograms or item.name == "sand_to_metal" else 1.0
        lowest = 0.1 if item.name == "sand_to_metal" else 0.0
        if not lowest <= value <= highest:
            problems.append(
                Problem(f"loop, {item.name}", f"{value} is not possible", f"give {lowest:g} to {highest:g}")
            )
    if loop.coke_yield + loop.volatiles_ash > 1.0:
        problems.append(
            Problem("loop, coke_yield and volatiles_ash", "together above 1", "they are shares of one mass")
        )
    core = {key.removeprefix("core_"): getattr(loop, key) for key in _CORE_KEYS}
    return problems + composition_problems("loop, core sand", core)


def wear_loss(batch_kg: float, content: float, wear_factor: float, sand_to_metal: float) -> float:
    """Mass of a component lost by pouring on a batch.

    ``wear_factor content (batch_kg / sand_to_metal) / 100``

    batch_kg: dry sand [kg]
    content: content of the component [% of dry]
    wear_factor: loss per 100 kg metal and per 1 % content [kg]
    sand_to_metal: dry sand per metal poured [kg/kg]
    returns: loss [kg]

    Shapes: scalars.
    Validity: bentonite 0.25 to 0.40, carbon carrier 0.7 to 1.5; depends on casting modulus and sand:metal.
    Errors: InputError when sand:metal is not above 0.
    Example:
    >>> round(wear_loss(1000.0, 8.0, 0.4, 3.0), 2)
    10.67

    Source: foundry_lexicon, entry "Wear factor".
    """
    if not sand_to_metal > 0.0:
        raise impossible("sand:metal", f"{sand_to_metal} is not possible", "give the sand:metal of the job")
    return wear_factor * content * (batch_kg / sand_to_metal) / 100.0


def burnt_share(wear_factor: float, sand_to_metal: float, spill: float = 0.0) -> float:
    """Share of a component lost in one pass.

    ``(1 - spill) min(wear_factor / sand_to_metal, 0.95)``

    wear_factor: loss per 100 kg metal and per 1 % content [kg]
    sand_to_metal: dry sand per metal poured [kg/kg]
    spill: share of the sand that returns unpoured [-]
    returns: share lost [-]

    Shapes: scalars.
    Validity: doubtful above 0.5.
    Errors: InputError when sand:metal is not above 0.
    Example:
    >>> round(burnt_share(0.4, 3.0), 3)
    0.133

    Source: foundry_lexicon, entry "Wear factor".
    """
    if not sand_to_metal > 0.0:
        raise impossible("sand:metal", f"{sand_to_metal} is not possible", "give the sand:metal of the job")
    return (1.0 - spill) * min(wear_factor / sand_to_metal, GREATEST_BURN)


def burnt_shares(loop: Loop) -> Floats:
    """Share of each component lost in one pass, in the order of COMPONENTS; fines do not burn."""
    fixed = (
        loop.carbon_wear_factor if loop.fixed_carbon_wear_factor is None else loop.fixed_carbon_wear_factor
    )
    factors = (loop.clay_wear_factor, loop.carbon_wear_factor, fixed)
    return np.array([*(burnt_share(w, loop.sand_to_metal, loop.spill) for w in factors), 0.0])


def cycle(composition: npt.ArrayLike, loop: Loop) -> Cycle:
    """One pass of prepared sand through mould, pouring, dust extraction and core sand.

    ``a1 = a (1 - ba)``, ``v1 = v (1 - bv)``, ``k1 = k (1 - bk) + yc bv v``,
    ``f1 = f + s (1 - h) ba a + ash_v bv v + ash_k bk k``, ``grain1 = grain + (1 - s)(1 - h) ba a``, rest gas;
    ``z = (1 - e) x1``, ``c = retention core / R``, ``x = (z + c core) / (sum(z)/100 + c)``

    composition: components of the prepared sand [% of dry]
    loop: the plant's values [as it states]
    returns: the pass per 100 kg of dry prepared sand [% of dry, kg]

    Shapes: composition (..., 4); results (..., 4) and (...).
    Validity: burnt shares up to 0.5; gas is what is left over, and is not below 0 for any possible loop.
    Errors: InputError when sand:metal is not above 0.
    Example:
    >>> plant = Loop(sand_to_metal=3.0, clay_wear_factor=0.4, bound_water=0.0)
    >>> round(float(cycle([8.0, 0.0, 0.0, 0.0], plant).composition[0]), 3)
    6.933

    Source: derived, conservation of mass; wear factors foundry_lexicon, shares plant values.
    """
    x = np.asarray(composition, dtype=np.float64)
    burnt = x * burnt_shares(loop)
    ash = (1.0 - loop.bound_water) * burnt[..., 0]
    after = x - burnt
    after[..., 2] += loop.coke_yield * burnt[..., 1]
    after[..., 3] += (
        loop.burnt_clay_to_fines * ash + loop.volatiles_ash * burnt[..., 1] + loop.carbon_ash * burnt[..., 2]
    )
    grain = 100.0 - x.sum(axis=-1) + (1.0 - loop.burnt_clay_to_fines) * ash
    extracted = np.array(
        [loop.dust_active_clay, loop.dust_volatiles, loop.dust_fixed_carbon, loop.dust_inert_fines]
    )
    dust = (after * extracted).sum(axis=-1) + grain * loop.dust_grain
    left = after * (1.0 - extracted)
    after_kg = after.sum(axis=-1) + grain
    left_kg = after_kg - dust
    core = loop.core_retention * loop.core_sand_t_per_t / loop.sand_to_metal
    returned = left_kg + 100.0 * core
    return Cycle(
        composition=np.asarray((100.0 * left + 100.0 * core * loop.core) / returned[..., None]),
        without_core=np.asarray(100.0 * left / left_kg[..., None]),
        returned_kg=np.asarray(returned),
        core_kg=100.0 * core,
        gas_kg=np.asarray(100.0 - after_kg),
        dust_kg=np.asarray(dust),
        burnt_kg=np.asarray(burnt),
    )


def steady_level(dose: float, cycle_factor: float) -> float:
    """Level that a constant dose reaches.

    ``dose / (1 - cycle_factor)``

    dose: addition in each cycle [%]
    cycle_factor: share left after one cycle [-]
    returns: steady level [%]

    Shapes: scalars.
    Validity: the same loss in every cycle.
    Errors: InputError when the factor is below 0 or not below 1.
    Example:
    >>> round(steady_level(0.68, 0.91), 3)
    7.556

    Source: derived, sum of a geometric series.
    """
    if not 0.0 <= cycle_factor < 1.0:
        raise impossible("cycle factor", f"{cycle_factor} never settles", "give 0 to below 1")
    return dose / (1.0 - cycle_factor)


def step_response(start: float, dose: float, cycle_factor: float, cycles: npt.ArrayLike) -> Floats:
    """Level after some cycles at a constant dose.

    ``x* + (start - x*) cycle_factor^cycles`` with ``x* = dose / (1 - cycle_factor)``

    start: level before the first cycle [%]
    dose: addition in each cycle [%]
    cycle_factor: share left after one cycle [-]
    cycles: number of cycles [-]
    returns: level after so many cycles [%]

    Shapes: cycles (...), result (...).
    Validity: the same loss in every cycle.
    Errors: InputError when the factor is below 0 or not below 1.
    Example:
    >>> round(float(step_response(6.5, 0.68, 0.91, 10)), 4)
    7.1445

    Source: derived, sum of a geometric series.
    """
    steady = steady_level(dose, cycle_factor)
    return np.asarray(
        steady + (start - steady) * np.power(cycle_factor, np.asarray(cycles, dtype=np.float64))
    )


def cycles_to_settle(cycle_factor: float, left: float = exp(-1.0)) -> float:
    """Cycles until only a share of a disturbance is left.

    ``ln(left) / ln(cycle_factor)``

    cycle_factor: share left after one cycle [-]
    left: share of the disturbance that is left; 1/e gives the time constant [-]
    returns: number of cycles [-]

    Shapes: scalars.
    Validity: the same loss in every cycle.
    Errors: InputError when a value is not between 0 and 1.
    Example:
    >>> round(cycles_to_settle(0.91), 2)
    10.6

    Source: derived, sum of a geometric series.
    """
    if not (0.0 < cycle_factor < 1.0 and 0.0 < left < 1.0):
        raise impossible("cycle factor", f"{cycle_factor} to {left} left", "give values between 0 and 1")
    return log(left) / log(cycle_factor)
