"""What the learned plant will do: bands over the coming hours, where it settles, what new sand it needs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sandlab.balance.additions import equations, ideal, main_property
from sandlab.balance.composition import COMPONENTS, Floats
from sandlab.balance.doses import charge
from sandlab.balance.inputs import Target
from sandlab.balance.kalman import Gaussian
from sandlab.balance.log import Way
from sandlab.balance.passage import FINES, SIZE, Charged
from sandlab.balance.sand_filter import SandFilter
from sandlab.balance.stream import HOUR_US
from sandlab.balance.warmth import temperatures, warmth
from sandlab.errors import impossible

SETTLED = 1e-7  # % between two cycles
MOST_CYCLES = 5000
LEFT = 0.1  # share of a difference that is left when a level counts as reached
LONGEST_H = 1000.0


@dataclass(frozen=True, slots=True)
class Forecast:
    """Bands of prepared sand at constant settings.

    hours: hours of running from now, shape (n,) [h]
    mean, sd: prepared sand and its standard deviation, shape (n, 4) [% of dry]
    temperature, temperature_sd: of prepared sand, shape (n,) [C]
    moisture, moisture_sd: moisture that it needs at the target compactability, shape (n,) [% of moist]
    cost_per_t: of the additions per t of prepared sand and per t of metal [money/t]
    """

    hours: Floats
    mean: Floats
    sd: Floats
    temperature: Floats
    temperature_sd: Floats
    moisture: Floats
    moisture_sd: Floats
    cost_per_t_sand: float
    cost_per_t_metal: float

    def course(self, name: str) -> tuple[Floats, Floats]:
        """Mean and sd of a component, of `temperature` or of `moisture`, shape (n,) each [unit of it]."""
        if name == "temperature":
            return self.temperature, self.temperature_sd
        if name == "moisture":
            return self.moisture, self.moisture_sd
        place = COMPONENTS.index(name)
        return self.mean[:, place], self.sd[:, place]

    def band(self, name: str) -> tuple[Floats, Floats]:
        """The 90 % band, shape (n,) each [unit of it]."""
        mean, sd = self.course(name)
        return mean - 1.645 * sd, mean + 1.645 * sd


@dataclass(frozen=True, slots=True)
class Settling:
    """Where constant settings lead and how long it takes until a tenth of the difference is left.

    hours: component -> hours of running, 0 where it is there already [h]
    """

    prepared: dict[str, float]
    hours: dict[str, float]


@dataclass(frozen=True, slots=True)
class NewSand:
    """New sand that holds the inert fines in the long run.

    kg: per batch; fines: the level it then holds, the target unless a limit binds [% of dry]
    binds: empty, or which limit keeps the fines from their target
    """

    kg: float
    fines: float
    binds: str


def forecast(
    sand_filter: SandFilter,
    ahead: Gaussian,
    at_us: int,
    kg: Floats,
    hours: float,
    *,
    needs: Callable[[Floats, tuple[Floats, Floats], tuple[Floats, Floats]], tuple[Floats, Floats]],
    every_h: float = 1.0,
    way: Way | None = None,
) -> Forecast:
    """Prepared sand of the coming hours at these settings, in the jobs planned or in another one.

    needs: hours, prepared sand and temperature (means and sd) -> moisture demand and its sd
    """
    per_h = sand_filter.plant.batches_per_h
    state, rows, times, ratios = ahead, [], [], []
    for number in range(round(hours * per_h) + 1):
        charged = _charge(sand_filter, at_us + int(number * HOUR_US / per_h), kg, way)
        if number % max(1, round(every_h * per_h)) == 0:
            rows.append(sand_filter.prepared(state, charged))
            times.append(number / per_h)
            ratios.append(charged.sand_to_metal)
        state = sand_filter.advanced(state, charged, 1.0 / per_h)
    mean, sd = np.array([one for one, _ in rows]), np.array([one for _, one in rows])
    warm, warm_sd = temperatures(warmth(sand_filter.log, at_us), times, ratios)
    moisture, moisture_sd = needs(np.array(times), (mean, sd), (warm, warm_sd))
    sand_t, metal_t = _cost(sand_filter, _charge(sand_filter, at_us, kg, way), kg)
    return Forecast(np.array(times), mean, sd, warm, warm_sd, moisture, moisture_sd, sand_t, metal_t)


def _cost(sand_filter: SandFilter, first: Charged, kg: Floats) -> tuple[float, float]:
    """Cost of the additions per t of prepared sand and per t of metal [money/t]."""
    feeders = sand_filter.log.feeders
    cost = sum(one * f.material.cost_per_t / 1000.0 for one, f in zip(kg.tolist(), feeders, strict=True))
    per_t = cost / ((first.dry_kg + float(first.added_kg.sum())) / 1000.0)
    return per_t, per_t * first.sand_to_metal


def _charge(sand_filter: SandFilter, at_us: int, kg: Floats, way: Way | None) -> Charged:
    """A batch with these kg, in the job planned at its time or in the one named."""
    charged = charge(sand_filter, at_us, kg)
    if way is None:
        return charged
    return replace(charged, sand_to_metal=way.sand_to_metal, core=way.core, job=way.job)


def settling(
    sand_filter: SandFilter, state: Gaussian, at_us: int, kg: Floats, *, way: Way | None = None
) -> Settling:
    """The level that these settings lead to in one job, and the time until it is nearly there."""
    mean, charged = state.mean, _charge(sand_filter, at_us, kg, way)
    returned = mean[: sand_filter.cells].reshape(-1, SIZE).mean(axis=0)
    for _ in range(MOST_CYCLES):
        before = returned
        returned = sand_filter.sent(mean, _made(sand_filter, mean, charged, before), charged).composition
        if float(np.abs(returned - before).max()) < SETTLED:
            break
    level = _made(sand_filter, mean, charged, returned)
    cells = mean[: sand_filter.cells].copy()
    off = np.abs(_made(sand_filter, mean, charged, cells[-SIZE:]) - level)
    hours, batches = np.zeros(SIZE), 0
    away = off > 0.01
    per_h = sand_filter.plant.batches_per_h
    while away.any() and batches < LONGEST_H * per_h:
        cells = sand_filter.carried(mean, cells, charged)
        batches += 1
        now = np.abs(_made(sand_filter, mean, charged, cells[-SIZE:]) - level)
        hours[away] = batches / per_h
        away &= now > LEFT * off
    return Settling(
        dict(zip(COMPONENTS, level.tolist(), strict=True)), dict(zip(COMPONENTS, hours.tolist(), strict=True))
    )


def _made(sand_filter: SandFilter, mean: Floats, charged: Charged, returned: Floats) -> Floats:
    return sand_filter.mixed(mean, charged, returned).composition


def new_sand_for(
    sand_filter: SandFilter,
    state: Gaussian,
    at_us: int,
    kg: Floats,
    fines: float,
    targets: Sequence[Target],
    *,
    way: Way | None = None,
) -> NewSand:
    """New sand per batch that holds the fines while clay and carbon are held on their targets."""
    from scipy.optimize import brentq

    feeders = sand_filter.log.feeders
    place = next((i for i, f in enumerate(feeders) if f.material.kind == "new_sand"), None)
    if place is None:
        raise impossible("new sand", "no feeder brings new sand", "add one to the plant")

    def level(amount: float) -> float:
        return _held_fines(sand_filter, state, at_us, _with(kg, place, amount), targets, way)

    low, high = feeders[place].minimum_kg, feeders[place].maximum_kg
    if level(low) <= fines:
        reached = level(low)
        binds = "" if abs(reached - fines) < 1e-6 else f"{feeders[place].id} at its minimum {low:g} kg"
        return NewSand(low, reached, binds)
    if level(high) >= fines:
        return NewSand(high, level(high), f"{feeders[place].id} at its maximum {high:g} kg")
    found = float(brentq(lambda amount: level(amount) - fines, low, high, xtol=1e-3))
    return NewSand(found, level(found), "")


def _with(kg: Floats, place: int, amount: float) -> Floats:
    changed = kg.copy()
    changed[place] = amount
    return changed


def _held_fines(
    sand_filter: SandFilter,
    state: Gaussian,
    at_us: int,
    kg: Floats,
    targets: Sequence[Target],
    way: Way | None,
) -> float:
    """Inert fines of prepared sand in the steady state whose other targets are held by their feeders."""
    mean, kg = state.mean, kg.copy()
    steered = [t for t in targets if t.property in COMPONENTS and t.property != "inert_fines"]
    log = sand_filter.log
    moving = [i for i, f in enumerate(log.feeders) if main_property(f.material, steered) is not None]
    materials = [log.feeders[i].material for i in moving]
    staying = [(f.material, kg[i]) for i, f in enumerate(log.feeders) if i not in moving]
    returned = mean[: sand_filter.cells].reshape(-1, SIZE).mean(axis=0)
    for _ in range(MOST_CYCLES):
        problem = equations(materials, staying, steered, dry_kg=log.usual_dry_kg, return_composition=returned)
        kg[moving] = np.maximum(0.0, ideal(problem, [log.feeders[i] for i in moving]))
        charged = _charge(sand_filter, at_us, kg, way)
        made = _made(sand_filter, mean, charged, returned)
        following = sand_filter.sent(mean, made, charged).composition
        if float(np.abs(following - returned).max()) < SETTLED:
            break
        returned = following
    return float(made[FINES])
