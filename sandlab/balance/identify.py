"""Plant values fitted to a window of the log, with confidence limits and what the window cannot tell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import exp, hypot, sqrt
from math import log as log_of

import numpy as np

from sandlab.balance.composition import Floats
from sandlab.balance.fit_limits import fit_sds
from sandlab.balance.identify_water import (
    KNOWN,
    WaterFit,
    WaterSample,
    demand_of,
    fit_water,
    mean_sand,
)
from sandlab.balance.identify_water import NAMES as WATER_NAMES
from sandlab.balance.kalman import Gaussian
from sandlab.balance.log import Key, Log
from sandlab.balance.passage import SIZE, Charged
from sandlab.balance.replay import Replay
from sandlab.balance.sand_filter import SandFilter, Spread
from sandlab.balance.stream import HOUR_US
from sandlab.balance.temper import DemandFit
from sandlab.balance.views import View, lasting_sds, views
from sandlab.errors import impossible

STRIDE = 6  # batches that are run as one
FAR = 3.0  # prior sd beyond which a value is not believed
BLOCK_US = 72 * HOUR_US  # results that may err together
STUDENT = 1.96  # limits of 95 %, results being many


@dataclass(frozen=True, slots=True)
class Fitted:
    """One plant value.

    value, low, high: fitted, with its 95 % limits; start: what was assumed before
    identified: False when the window says little beyond what was assumed
    """

    name: str
    unit: str
    value: float
    low: float
    high: float
    start: float
    identified: bool


@dataclass(frozen=True, slots=True)
class Identification:
    """A fit: values, results used, root-mean-square of the residuals in their own sd, and remarks.

    samples: of moisture with compactability behind the water's values
    demand, slope: the water's values as a plant holds them; None when there were too few samples
    """

    values: tuple[Fitted, ...]
    results: int
    misfit: float
    remarks: tuple[str, ...]
    samples: int = 0
    demand: DemandFit | None = None
    slope: float | None = None


@dataclass(frozen=True, slots=True)
class _Run:
    """The window as it is run: charges, after which of them which views are taken; samples by their batch."""

    charges: tuple[Charged, ...]
    views: tuple[tuple[int, View], ...]
    samples: tuple[tuple[int, float, float, float | None], ...]


_NAMES = (
    ("clay_wear_factor", "kg per 100 kg metal and 1 %"),
    ("carbon_wear_factor", "kg per 100 kg metal and 1 %"),
    ("core_retention", "share"),
    ("bond", "working bond over active clay"),
    ("carbon_source", "% a cycle"),
    ("fines_source", "% a cycle"),
)


def identify(
    log: Log,
    after_us: int,
    until_us: int,
    *,
    spread: Spread | None = None,
    tick: Callable[[], None] = lambda: None,
) -> Identification:
    """Plant values by least squares on the tests of a window: wear, core retention, bond, sources, water.

    Each value has its prior as one more equation. Limits are those of the linearised fit, widened where the
    residuals are larger than the laboratory's noise or err together for days, and by what feeders and assays
    may be off. `tick` is called at every step of the search: it may count, and it may raise to end it.
    """
    sand_filter = SandFilter(log.plant, log, spread or Spread())
    run = _window(log, after_us, until_us)
    if len(run.views) < 10:
        raise impossible("identification", f"{len(run.views)} usable results", "choose a longer window")
    free, spreads, misfit = _solved(sand_filter, run, tick)
    prior = _prior(sand_filter, sand_filter.start().gaussian).tolist()
    values = tuple(
        _fitted(log, place, free[place], spreads[place], prior[place]) for place in range(len(_NAMES))
    )
    odd = [name for (name, _), one in zip(_NAMES, free, strict=False) if abs(one) > FAR]
    if odd:
        # what lies so far off was not told by a quiet window, and the other values suffer from it
        values = tuple(replace(one, identified=False) for one in values)
    samples = _water_samples(sand_filter, run)
    water = fit_water(log, samples, tick=tick)
    if water is None:
        few = "too few samples with moisture and compactability for the water demand"
        remarks = (*_remarks(values, misfit, odd), few)
        return Identification(values, len(run.views), misfit, remarks, len(samples))
    values += _water_values(water)
    target = next(t.target for t in log.plant.targets if t.property == "compactability")
    demand = demand_of(water, mean_sand(samples), target)
    remarks = _remarks(values, misfit, odd, water.misfit)
    slope = float(water.values[-1])
    return Identification(values, len(run.views), misfit, remarks, len(samples), demand, slope)


def _solved(
    sand_filter: SandFilter, run: _Run, tick: Callable[[], None]
) -> tuple[list[float], list[float], float]:
    """The unknowns in their prior sd, their sd, and the root-mean-square of the residuals."""
    from scipy.optimize import least_squares

    start = sand_filter.start().gaussian
    prior = _prior(sand_filter, start)

    def lacking(free: Floats) -> Floats:
        tick()
        return np.concatenate([_residuals(sand_filter, run, start, free), free])

    # core sand cannot stay more than whole
    most = np.full(len(prior), np.inf)
    most[2] = max(0.05, -log_of(sand_filter.plant.loop.core_retention) / prior[2])
    solved = least_squares(
        lacking,
        np.zeros(len(prior)),
        diff_step=np.full(len(prior), 1e-3),
        xtol=1e-4,
        bounds=(-np.inf, most),
    )
    residuals = np.asarray(solved.fun[: len(run.views)], dtype=np.float64)
    jacobian = np.asarray(solved.jac, dtype=np.float64)[: len(run.views)]
    spreads = fit_sds(jacobian, residuals, [view.taken_us // BLOCK_US for _, view in run.views])
    # what feeders and assays may be off looks like wear, and no window of the log can tell it apart
    unseen = hypot(sand_filter.spread.feed, sand_filter.spread.lot)
    spreads[:2] = np.hypot(spreads[:2], unseen / prior[:2])
    return solved.x.tolist(), spreads.tolist(), sqrt(float(np.mean(residuals**2)))


def _water_samples(sand_filter: SandFilter, run: _Run) -> list[WaterSample]:
    """The samples with the sand that the filter puts there, feeders and lots followed on the way."""
    replay = Replay(sand_filter.start(), sand_filter.measure, sand_filter.step)
    found = []
    for index, moisture, compactability, warm in run.samples:
        charged = sand_filter.log.charged(index)
        sand, sd = sand_filter.prepared(replay.at(index).gaussian, charged)
        block = sand_filter.log.at[index] // BLOCK_US
        found.append(WaterSample(moisture, compactability, sand, sd, warm, block))
    return found


def _water_values(water: WaterFit) -> tuple[Fitted, ...]:
    """The water's values; one that its samples left as wide as it was is not identified."""
    found = zip(
        WATER_NAMES, water.values.tolist(), water.sds.tolist(), water.start.tolist(), water.prior.tolist(),
        strict=True,
    )  # fmt: skip
    return tuple(
        Fitted(name, unit, value, value - STUDENT * sd, value + STUDENT * sd, start, sd < KNOWN * prior)
        for (name, unit), value, sd, start, prior in found
    )


def _prior(sand_filter: SandFilter, start: Gaussian) -> Floats:
    """Prior sd of fitted values, sand at the start, what tests show beside; in the order of the unknowns."""
    spread = sand_filter.spread
    return np.array(
        [
            spread.clay_wear,
            spread.carbon_wear,
            0.25,
            spread.bond,
            *spread.source,
            *spread.start,
            *lasting_sds(start.mean[:SIZE]),
        ]
    )


def _made(sand_filter: SandFilter, run: _Run, start: Gaussian, free: Floats) -> tuple[Floats, float]:
    """Prepared sand of every charge of the run, shape (n, 4), and the bond; unknowns in their prior sd."""
    values = free * _prior(sand_filter, start)
    mean = start.mean.copy()
    mean[sand_filter.clay_wear], mean[sand_filter.carbon_wear] = values[0], values[1]
    mean[sand_filter.bond] += values[3]
    mean[sand_filter.source] += values[4:6]
    cells = mean[: sand_filter.cells] + np.tile(values[6 : 6 + SIZE], sand_filter.cells // SIZE)
    more_core = exp(values[2])
    made = np.zeros((len(run.charges), SIZE))
    for number, charged in enumerate(run.charges):
        made[number] = sand_filter.mixed(mean, charged, cells[-SIZE:]).composition
        cells = sand_filter.carried(mean, cells, replace(charged, core=charged.core * more_core))
    return made, float(mean[sand_filter.bond])


def _residuals(sand_filter: SandFilter, run: _Run, start: Gaussian, free: Floats) -> Floats:
    """Results less what the run expects, in their own sd; unknowns are in units of their prior sd."""
    made, bond = _made(sand_filter, run, start, free)
    beside = free[6 + SIZE :] * _prior(sand_filter, start)[6 + SIZE :]
    out = []
    for number, view in run.views:
        expected, _, _ = view.expected(made[number], bond)
        expected += float(beside[view.lasting]) if view.lasting >= 0 else 0.0
        # a result far out is bounded, as the filter's gate does
        out.append(float(np.clip((view.value - expected) / sqrt(view.variance), -4.0, 4.0)))
    return np.array(out)


def _window(log: Log, after_us: int, until_us: int) -> _Run:
    if not log.at:
        raise impossible("identification", "no batch was logged", "choose a window with batches")
    first, last = log.index(after_us), log.index(until_us) + 1
    charges, seen, samples = [], [], []
    for begin in range(first, last, STRIDE):
        group = [log.charged(index) for index in range(begin, min(begin + STRIDE, last))]
        total = sum(one.dry_kg for one in group)
        charges.append(
            replace(
                group[0],
                dry_kg=total,
                added_kg=np.sum([one.added_kg for one in group], axis=0),
                core=sum(one.core * one.dry_kg for one in group) / total,
                sand_to_metal=total / sum(one.dry_kg / one.sand_to_metal for one in group),
                job=-1,
            )
        )
        for index in range(begin, min(begin + STRIDE, last)):
            results = log.results_of(index)
            seen += [(len(charges) - 1, view) for view in views(results, log.plant)]
            samples += [(index, *sample) for sample in _samples(results)]
    return _Run(tuple(charges), tuple(seen), tuple(samples))


def _samples(results: list[Key]) -> list[tuple[float, float, float | None]]:
    """Moisture, compactability and temperature of each sample of one batch that has the first two."""
    found: dict[int, dict[str, float]] = {}
    for taken, name, value, _, doubtful in results:
        if not doubtful:
            found.setdefault(taken, {})[name] = value
    return [
        (one["moisture"], one["compactability"], one.get("sand_temperature"))
        for one in found.values()
        if "moisture" in one and "compactability" in one
    ]


def _fitted(log: Log, place: int, free: float, sd: float, prior: float) -> Fitted:
    name, unit = _NAMES[place]
    loop = log.plant.loop
    starts = {
        "clay_wear_factor": loop.clay_wear_factor,
        "carbon_wear_factor": loop.carbon_wear_factor,
        "core_retention": loop.core_retention,
        "bond": log.plant.bond,
    }
    sources = dict(zip(("carbon_source", "fines_source"), log.plant.source, strict=True))
    ends = [prior * (free + step * sd) for step in (0.0, -STUDENT, STUDENT)]
    start = starts.get(name, sources.get(name, 0.0))
    value, low, high = (start * exp(end) if name in starts else start + end for end in ends)
    return Fitted(name, unit, value, low, high, start, identified=sd < KNOWN)


def _remarks(
    values: tuple[Fitted, ...], misfit: float, odd: list[str], water_misfit: float = 0.0
) -> tuple[str, ...]:
    remarks = [
        f"{name} lies far from any usual value: a feeder, a lot or the way of logging changed in the window; "
        "choose a quieter one"
        for name in odd
    ]
    remarks += [f"{one.name} cannot be identified from this window" for one in values if not one.identified]
    for name, wide in (("results", misfit), ("moisture and compactability", water_misfit)):
        if wide > 1.5:
            remarks.append(f"{name} scatter {wide:.1f} times as wide as the laboratory's noise")
    return tuple(remarks)
