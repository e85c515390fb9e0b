"""Clay, carbon and new sand for the coming hours, from what the filter knows of the sand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sandlab.balance.additions import limits, settable
from sandlab.balance.answer import Evidence
from sandlab.balance.check import STEERED
from sandlab.balance.composition import COMPONENTS, Floats, mapping
from sandlab.balance.inputs import Feeder, Target
from sandlab.balance.kalman import Gaussian
from sandlab.balance.passage import FINES, SIZE, Charged
from sandlab.balance.sand_filter import SandFilter
from sandlab.balance.steering import Dose, ReturnSand, steer
from sandlab.balance.stream import HOUR_US

PURGE_H = 72.0  # hours in which new sand may bring the inert fines to their target
ROUNDS = 2  # the sand of the last hours of the interval carries this very dose already


@dataclass(frozen=True, slots=True)
class Plan:
    """Settings with what they rest on.

    doses: of all feeders but water
    sand: return sand over the coming hours and on target
    ahead: the filter before the next batch
    charged: the next batch at these settings
    present_kg: what was set before
    """

    doses: tuple[Dose, ...]
    sand: ReturnSand
    ahead: Gaussian
    charged: Charged
    present_kg: Floats


def plan(
    sand_filter: SandFilter,
    ahead: Gaussian,
    at_us: int,
    present_kg: Floats,
    *,
    targets: Sequence[Target],
    found: Mapping[str, Evidence],
) -> Plan:
    """Settings for the interval that begins now, nearest to the targets within the feeders' limits."""
    steered = tuple(target for target in targets if target.property in STEERED)
    feeders = _effective(sand_filter, ahead, at_us, present_kg)
    feeders = _purged(sand_filter, ahead, at_us, feeders, targets=targets, found=found)
    kg = np.array([feeder.present_kg for feeder in feeders])
    doses: tuple[Dose, ...] = ()
    for _ in range(ROUNDS):
        sand = _coming(sand_filter, ahead, at_us, kg, steered)
        doses = steer(feeders, sand, found, sand_filter.plant.voice)
        kg = np.array([dose.kg for dose in doses])
    return Plan(doses, sand, ahead, charge(sand_filter, at_us, kg), present_kg)


def _effective(sand_filter: SandFilter, state: Gaussian, at_us: int, present_kg: Floats) -> list[Feeder]:
    """The feeders with the assays of their present lots, as much as really arrives of them."""
    assays, dry = sand_filter.log.assays_at(at_us)
    arriving = (1.0 + state.mean[sand_filter.feed]) * (1.0 + state.mean[sand_filter.lot])
    feeders = []
    for place, feeder in enumerate(sand_filter.log.feeders):
        material = replace(
            feeder.material,
            moisture=100.0 * (1.0 - float(dry[place])),
            assay=mapping(assays[place] * arriving[place]),
        )
        feeders.append(replace(feeder, material=material, present_kg=float(present_kg[place])))
    return feeders


def charge(sand_filter: SandFilter, at_us: int, kg: Floats) -> Charged:
    """A batch at a time with these kg as weighed."""
    assays, dry = sand_filter.log.assays_at(at_us)
    way = sand_filter.log.way_at(at_us)
    return Charged(sand_filter.log.usual_dry_kg, kg * dry, assays, way.sand_to_metal, way.core, way.job)


def _coming(
    sand_filter: SandFilter, ahead: Gaussian, at_us: int, kg: Floats, targets: tuple[Target, ...]
) -> ReturnSand:
    """Mean return sand of the interval at these settings, and the return sand of sand on target."""
    plant, mean = sand_filter.plant, ahead.mean
    batches = max(1, round(plant.interval_h * plant.batches_per_h))
    total, cells = np.zeros(SIZE), mean[: sand_filter.cells].copy()
    for number in range(batches):
        total += cells[-SIZE:]
        charged = charge(sand_filter, at_us + int(number * HOUR_US / plant.batches_per_h), kg)
        cells = sand_filter.carried(mean, cells, charged)
    composition = total / batches
    wanted = composition.copy()
    for target in targets:
        wanted[COMPONENTS.index(target.property)] = target.target
    charged = charge(sand_filter, at_us, kg)
    on_target = sand_filter.sent(mean, wanted, charged).composition
    bare = sand_filter.sent(mean, wanted, replace(charged, core=0.0)).composition
    return ReturnSand(charged.dry_kg, composition, on_target, bare, targets)


def _purged(
    sand_filter: SandFilter,
    state: Gaussian,
    at_us: int,
    feeders: list[Feeder],
    *,
    targets: Sequence[Target],
    found: Mapping[str, Evidence],
) -> list[Feeder]:
    """New sand that brings the inert fines to their target in three days.

    What is mere doubt, or less than half the tolerance, moves nothing.
    """
    target = next((t for t in targets if t.property == "inert_fines"), None)
    place = next((i for i, f in enumerate(feeders) if f.material.kind == "new_sand"), None)
    if target is None or place is None or found["inert_fines"].weak:
        return feeders
    feeder = feeders[place]
    kg = np.array([f.present_kg for f in feeders])
    step = max(feeder.resolution_kg, 0.1 * feeder.maximum_kg)
    more = kg.copy()
    more[place] += step
    level = fines_after(sand_filter, state, at_us, kg, PURGE_H)
    slope = (fines_after(sand_filter, state, at_us, more, PURGE_H) - level) / step
    returned = sand_filter.on_own_scale(state).covariance[sand_filter.returned, sand_filter.returned]
    doubt = float(np.sqrt(max(returned[FINES, FINES], 0.0)))
    off = level - target.target
    off = np.sign(off) * max(0.0, abs(off) - max(doubt, 0.5 * target.tolerance))
    bounds = limits(feeder)
    aim = kg[place] - off / slope if slope < 0.0 else kg[place]
    usual = feeder.minimum_kg if feeder.reference_kg is None else feeder.reference_kg
    least = max(bounds.low, min(float(kg[place]), usual))
    chosen = settable(feeder, float(min(max(aim, least), bounds.high)))
    return [*feeders[:place], replace(feeder, present_kg=chosen), *feeders[place + 1 :]]


def fines_after(sand_filter: SandFilter, state: Gaussian, at_us: int, kg: Floats, hours: float) -> float:
    """Inert fines of the mixed system after so many hours of the present job, other components held [%]."""
    plant, mean = sand_filter.plant, state.mean
    charged = charge(sand_filter, at_us, kg)
    cycle_h = 1000.0 * plant.stock_t / charged.dry_kg / plant.batches_per_h
    sand = mean[: sand_filter.cells].reshape(-1, SIZE).mean(axis=0)
    fines = float(sand[FINES])
    for _ in range(max(1, round(hours / cycle_h))):
        sand[FINES] = fines
        made = sand_filter.mixed(mean, charged, sand)
        fines = float(sand_filter.sent(mean, made.composition, charged).composition[FINES])
    return fines
