"""One batch through muller, mould and shakeout, with its derivatives: the step of the learning balance.

The same equations as batch.mix and loop.cycle, written for one batch after another and differentiated by
hand; the tests hold them against those two and against finite differences.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sandlab.balance.composition import COMPONENTS, Floats
from sandlab.balance.loop import GREATEST_BURN, Loop

CLAY, VOLATILES, FIXED_CARBON, FINES = range(4)
SIZE = len(COMPONENTS)


@dataclass(frozen=True, slots=True)
class Charged:
    """What goes into one batch, dry.

    dry_kg: return sand [kg]
    added_kg: each addition as logged, shape (n,) [kg]
    assays: of the additions, shape (n, 4) [% of dry]
    sand_to_metal: of the job that the batch is moulded for [kg/kg]
    core: core sand that joins the return sand, per kg of dry prepared sand [kg/kg]
    job: number of the job, -1 for none [-]
    """

    dry_kg: float
    added_kg: Floats
    assays: Floats
    sand_to_metal: float
    core: float
    job: int = -1


@dataclass(frozen=True, slots=True)
class Mixed:
    """Prepared sand, shape (4,) [% of dry], and its derivatives.

    by_return: by the composition of the return sand, the same for each component [-]
    by_feed: by the relative error of each feeder, shape (4, n) [%]
    by_assay: by the relative error of each assay, shape (4, n) [%]
    """

    composition: Floats
    by_return: float
    by_feed: Floats
    by_assay: Floats


@dataclass(frozen=True, slots=True)
class Passed:
    """Return sand behind the shakeout, shape (4,) [% of dry], and its derivatives.

    by_prepared: by the prepared sand, shape (4, 4) [-]
    by_clay_wear, by_carbon_wear: by the logarithm of the wear factors, shape (4,) [%]
    per_source: by what is added to the components in the mould, the same for each [-]
    """

    composition: Floats
    by_prepared: Floats
    by_clay_wear: Floats
    by_carbon_wear: Floats
    per_source: float


def mixed(returned: Floats, charged: Charged, feed: Floats, assay: Floats) -> Mixed:
    """The prepared sand of one batch whose feeders and assays are off by known shares."""
    true_kg = charged.added_kg * (1.0 + feed)
    total = charged.dry_kg + float(true_kg.sum())
    true_assays = charged.assays * (1.0 + assay)[:, None]
    composition = (charged.dry_kg * returned + true_kg @ true_assays) / total
    share = charged.added_kg[:, None] / total
    return Mixed(
        composition=composition,
        by_return=charged.dry_kg / total,
        by_feed=(share * (true_assays - composition)).T,
        by_assay=((true_kg / total)[:, None] * charged.assays).T,
    )


class Passage:
    """The way from muller to shakeout of one plant; what does not change from batch to batch is kept."""

    def __init__(self, loop: Loop) -> None:
        fixed = loop.fixed_carbon_wear_factor
        carbon = loop.carbon_wear_factor
        self._wear = (loop.clay_wear_factor, carbon, carbon if fixed is None else fixed)
        self._poured = 1.0 - loop.spill
        ash = 1.0 - loop.bound_water
        to_fines = loop.burnt_clay_to_fines * ash
        # columns: what one kg of burnt clay, volatiles, fixed carbon changes in the components
        gain = np.zeros((SIZE, 3))
        gain[CLAY, 0] = gain[VOLATILES, 1] = gain[FIXED_CARBON, 2] = -1.0
        gain[FIXED_CARBON, 1] = loop.coke_yield
        gain[FINES] = (to_fines, loop.volatiles_ash, loop.carbon_ash)
        dust = (loop.dust_active_clay, loop.dust_volatiles, loop.dust_fixed_carbon, loop.dust_inert_fines)
        self._kept = 1.0 - np.array(dust)
        self._gain = self._kept[:, None] * gain
        self._grain_kept = 1.0 - loop.dust_grain
        baked = self._grain_kept * (1.0 - loop.burnt_clay_to_fines) * ash
        self._mass = self._gain.sum(axis=0) + np.array([baked, 0.0, 0.0])
        self._plain = self._kept - self._grain_kept
        self._core = loop.core
        self.retention = loop.core_retention

    def burnt(self, sand_to_metal: float, clay_wear: float, carbon_wear: float) -> tuple[float, float, float]:
        """Shares of clay, volatiles and fixed carbon that burn, at wear factors off by these logarithms."""
        up = float(np.exp(carbon_wear))
        factors = (self._wear[0] * float(np.exp(clay_wear)), self._wear[1] * up, self._wear[2] * up)
        a, v, k = (self._poured * min(w / sand_to_metal, GREATEST_BURN) for w in factors)
        return a, v, k

    def passed(
        self,
        prepared: Floats,
        charged: Charged,
        *,
        clay_wear: float = 0.0,
        carbon_wear: float = 0.0,
        source: Floats | float = 0.0,
    ) -> Passed:
        """The sand of one batch behind the shakeout; `source` joins its components in the mould, in %."""
        shares = np.array(self.burnt(charged.sand_to_metal, clay_wear, carbon_wear))
        burnt = shares * prepared[:3]
        left = self._kept * prepared + self._gain @ burnt + source
        core = 100.0 * charged.core
        total = 100.0 * self._grain_kept + float(self._plain @ prepared + self._mass @ burnt) + core
        composition = (100.0 * left + core * self._core) / total
        by_prepared = np.diag(self._kept)
        by_prepared[:, :3] += self._gain * shares
        mass = self._plain.copy()
        mass[:3] += self._mass * shares
        by_prepared = (100.0 * by_prepared - np.outer(composition, mass)) / total
        by_burnt = (100.0 * self._gain - np.outer(composition, self._mass)) / total
        return Passed(
            composition=composition,
            by_prepared=by_prepared,
            by_clay_wear=by_burnt[:, 0] * burnt[0],
            by_carbon_wear=by_burnt[:, 1] * burnt[1] + by_burnt[:, 2] * burnt[2],
            per_source=100.0 / total,
        )
