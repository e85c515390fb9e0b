"""What is asked in a what-if: days, jobs, settings; what of it is impossible, and what it comes to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from sandlab.balance.log import Way
from sandlab.balance.recommender import Recommender
from sandlab.errors import Problem, nearest
from sandlab.lab.opening import Lab
from sandlab.records import Production

LONGEST_DAYS = 60.0
JOBS_SINCE = timedelta(days=90)
LATELY = timedelta(days=10)


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What is asked: days, jobs with their shares of metal, other sand:metal, settings, fines wanted.

    jobs: name -> share of the metal; none leaves the jobs as planned
    kg: feeder -> kg per batch; new_sand_per_t: kg of new sand per t of metal, instead of per batch
    fines: inert fines that new sand should hold [% of dry], None for the target
    """

    days: float = 3.0
    jobs: Mapping[str, float] = field(default_factory=dict)
    sand_to_metal: float | None = None
    core_sand_t_per_t: float | None = None
    kg: Mapping[str, float] = field(default_factory=dict)
    new_sand_per_t: float | None = None
    fines: float | None = None


def poured_jobs(lab: Lab) -> dict[str, tuple[float, float]]:
    """Jobs poured lately -> sand:metal and core sand per t of metal, weighted by metal."""
    sums: dict[str, list[float]] = {}
    for one in lab.store.records(Production, lab.system, since=lab.now() - JOBS_SINCE):
        total = sums.setdefault(one.job, [0.0, 0.0, 0.0])
        total[0] += one.metal_t
        total[1] += one.metal_t * one.sand_to_metal
        total[2] += one.core_sand_t
    return {
        job: (sand / metal, core / metal)
        for job, (metal, sand, core) in sums.items()
        if metal > 0 and sand > 0
    }


def usual_way(lab: Lab, now: datetime) -> tuple[float, float]:
    """Sand:metal and core sand per t of metal of the last days' mix, else of the specs."""
    poured = lab.store.records(Production, lab.system, since=now - LATELY, until=now)
    metal = sum(one.metal_t for one in poured)
    if metal <= 0.0:
        return lab.sand.loop.sand_to_metal, lab.sand.loop.core_sand_t_per_t
    sand = sum(one.metal_t * one.sand_to_metal for one in poured)
    return sand / metal, sum(one.core_sand_t for one in poured) / metal


def what_if_problems(lab: Lab, asked: WhatIf, jobs: Mapping[str, tuple[float, float]]) -> list[Problem]:
    problems = []
    if not 0.0 < asked.days <= LONGEST_DAYS:
        problems.append(Problem("days", f"{asked.days:g} is not possible", f"give up to {LONGEST_DAYS:g}"))
    for name, part in asked.jobs.items():
        if name not in jobs:
            problems.append(Problem(f"job '{name}'", "was not poured lately", nearest(name, list(jobs))))
        if not part > 0.0:
            problems.append(Problem(f"job '{name}'", f"a share of {part:g}", "give a share above 0"))
    for name, kg in asked.kg.items():
        feeder = lab.sand.feeders.get(name)
        if feeder is None or _is_water(lab, name):
            dry = [one for one in lab.sand.feeders if not _is_water(lab, one)]
            problems.append(Problem(name, "is no feeder of a dry addition", nearest(name, dry)))
        elif not 0.0 <= kg <= feeder.maximum_kg:
            problems.append(
                Problem(name, f"{kg:g} kg is impossible", f"it feeds 0 to {feeder.maximum_kg:g} kg")
            )
    if asked.new_sand_per_t is not None and new_sand_feeder(lab) is None:
        problems.append(Problem("new sand", "no feeder brings new sand", "add one to the plant's specs"))
    for name, value, low, high in (
        ("sand to metal", asked.sand_to_metal, 0.5, 50.0),
        ("core sand", asked.core_sand_t_per_t, 0.0, 5.0),
        ("new sand", asked.new_sand_per_t, 0.0, 2000.0),
        ("fines", asked.fines, 0.1, 30.0),
    ):
        if value is not None and not low <= value <= high:
            problems.append(Problem(name, f"{value:g} is not possible", f"give {low:g} to {high:g}"))
    return problems


def _is_water(lab: Lab, feeder: str) -> bool:
    return lab.specs.materials[lab.sand.feeders[feeder].material].kind == "water"


def new_sand_feeder(lab: Lab) -> str | None:
    feeders = lab.sand.feeders
    return next((n for n, f in feeders.items() if lab.specs.materials[f.material].kind == "new_sand"), None)


def way_of(
    recommender: Recommender,
    asked: WhatIf,
    jobs: Mapping[str, tuple[float, float]],
    usual: tuple[float, float],
) -> tuple[Way, str]:
    """The job that is run, or the mix of several: sand and cores add up over the metal.

    usual: sand:metal and core sand per t of metal where no job is named
    """
    log = recommender.log
    total = sum(asked.jobs.values())
    if asked.jobs:
        sand_to_metal = sum(part * jobs[name][0] for name, part in asked.jobs.items()) / total
        core = sum(part * jobs[name][1] for name, part in asked.jobs.items()) / total
        number = log.jobs.get(next(iter(asked.jobs)), -1) if len(asked.jobs) == 1 else -1
        words = ", ".join(
            f"{name} {part / total:.0%}".replace(" 100%", "") for name, part in asked.jobs.items()
        )
    else:
        sand_to_metal, core, number = *usual, -1
        words = "as in the last 10 days"
    sand_to_metal = asked.sand_to_metal or sand_to_metal
    core = core if asked.core_sand_t_per_t is None else asked.core_sand_t_per_t
    retention = recommender.plant.loop.core_retention
    return Way(sand_to_metal, retention * core / sand_to_metal, number), words


def core_sand(recommender: Recommender, way: Way) -> float:
    """Core sand per t of metal of a way [t/t]."""
    retention = recommender.plant.loop.core_retention
    return way.core * way.sand_to_metal / retention if retention else 0.0


def settings(lab: Lab, recommender: Recommender, asked: WhatIf, way: Way) -> dict[str, float]:
    """kg per batch of every dry feeder: as asked, else as set now."""
    kg = recommender.present() | dict(asked.kg)
    feeder = new_sand_feeder(lab)
    if asked.new_sand_per_t is not None and feeder is not None:
        kg[feeder] = asked.new_sand_per_t * recommender.log.usual_dry_kg / 1000.0 / way.sand_to_metal
    return kg
