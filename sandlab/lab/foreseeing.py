"""What jobs and settings lead to over days: bands, cost, steady state, new sand against rising fines."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from sandlab.balance.forecast import NewSand, Settling
from sandlab.balance.log import Way
from sandlab.balance.recommender import Recommender
from sandlab.errors import InputError, Problem, nearest
from sandlab.lab.balancing import known_plant
from sandlab.lab.estimates import OUTLOOK, course, feeder_label, running_share, target_words
from sandlab.lab.facts import (
    CourseFacts,
    NewSandFacts,
    SandForecastFacts,
    SettingFacts,
    SettlingFacts,
)
from sandlab.lab.opening import Lab
from sandlab.lab.series import microseconds
from sandlab.lab.showing import display_unit, sentence, shown_unit, text_of, with_unit
from sandlab.quantities import format_number
from sandlab.records import Production

LONGEST_DAYS = 60.0
JOBS_SINCE = timedelta(days=90)


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


@dataclass(frozen=True, slots=True)
class Question:
    """A what-if with the plant it is asked of, apart from the store: it may be reckoned in a thread of its own."""

    lab: Lab
    recommender: Recommender
    asked: WhatIf
    now: datetime
    way: Way
    job: str


def forecast(lab: Lab, asked: WhatIf | None = None) -> SandForecastFacts:
    """The days ahead at these jobs and settings; raises InputError with every problem."""
    return reckon(question(lab, asked or WhatIf()))


def question(lab: Lab, asked: WhatIf) -> Question:
    """Check what is asked and gather what it rests on; raises InputError with every problem."""
    jobs = poured_jobs(lab)
    problems = _problems(lab, asked, jobs)
    if problems:
        raise InputError(problems)
    recommender, now = known_plant(lab).recommender, lab.now()
    way, job = _way(recommender, asked, jobs, microseconds(now))
    return Question(lab, recommender, asked, now, way, job)


def reckon(one: Question, progress: Callable[[float], None] = lambda share: None) -> SandForecastFacts:
    """The answer; reads nothing from the store. `progress` is told the share done and may raise to end it."""
    lab, recommender, asked, way = one.lab, one.recommender, one.asked, one.way
    at_us, share = microseconds(one.now), running_share(recommender, one.now)
    kg = _settings(lab, recommender, asked, way)
    hours = max(1.0, 24.0 * asked.days * share)
    progress(0.1)
    ahead = recommender.forecast(at_us, hours, kg, way=way)
    present = recommender.forecast(at_us, 0.0, way=way)
    courses = tuple(course(lab, recommender, key, ahead, now=one.now, share=share) for key in OUTLOOK)
    progress(0.4)
    settled = recommender.settling(at_us, kg, way=way)
    progress(0.7)
    return SandForecastFacts(
        now=one.now,
        until=one.now + timedelta(days=asked.days),
        days=asked.days,
        running_h=hours,
        job=one.job,
        sand_to_metal=way.sand_to_metal,
        core_sand_t_per_t=_core(recommender, way),
        settings=_setting_facts(lab, recommender, kg, way.sand_to_metal),
        words=_words(lab, courses, asked.days),
        courses=courses,
        cost_per_t_sand=ahead.cost_per_t_sand,
        cost_per_t_metal=ahead.cost_per_t_metal,
        cost_now_per_t_metal=present.cost_per_t_metal,
        cost_words=_cost_words(lab, ahead.cost_per_t_metal, present.cost_per_t_metal),
        settling=_settling(lab, settled),
        new_sand=_new_sand(lab, recommender, asked, way, at_us),
    )


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


def _problems(lab: Lab, asked: WhatIf, jobs: Mapping[str, tuple[float, float]]) -> list[Problem]:
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
    if asked.new_sand_per_t is not None and _new_sand_feeder(lab) is None:
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


def _new_sand_feeder(lab: Lab) -> str | None:
    feeders = lab.sand.feeders
    return next((n for n, f in feeders.items() if lab.specs.materials[f.material].kind == "new_sand"), None)


def _way(
    recommender: Recommender, asked: WhatIf, jobs: Mapping[str, tuple[float, float]], at_us: int
) -> tuple[Way, str]:
    """The job that is run, or the mix of several: sand and cores add up over the metal."""
    log = recommender.log
    present = log.way_at(at_us)
    total = sum(asked.jobs.values())
    if asked.jobs:
        sand_to_metal = sum(part * jobs[name][0] for name, part in asked.jobs.items()) / total
        core = sum(part * jobs[name][1] for name, part in asked.jobs.items()) / total
        number = log.jobs.get(next(iter(asked.jobs)), -1) if len(asked.jobs) == 1 else -1
        words = ", ".join(
            f"{name} {part / total:.0%}".replace(" 100%", "") for name, part in asked.jobs.items()
        )
    else:
        sand_to_metal, core, number = present.sand_to_metal, _core(recommender, present), present.job
        words = "as at present"
    sand_to_metal = asked.sand_to_metal or sand_to_metal
    core = core if asked.core_sand_t_per_t is None else asked.core_sand_t_per_t
    retention = recommender.plant.loop.core_retention
    return Way(sand_to_metal, retention * core / sand_to_metal, number), words


def _core(recommender: Recommender, way: Way) -> float:
    """Core sand per t of metal of a way [t/t]."""
    retention = recommender.plant.loop.core_retention
    return way.core * way.sand_to_metal / retention if retention else 0.0


def _settings(lab: Lab, recommender: Recommender, asked: WhatIf, way: Way) -> dict[str, float]:
    """kg per batch of every dry feeder: as asked, else as set now."""
    kg = recommender.present() | dict(asked.kg)
    feeder = _new_sand_feeder(lab)
    if asked.new_sand_per_t is not None and feeder is not None:
        kg[feeder] = asked.new_sand_per_t * recommender.log.usual_dry_kg / 1000.0 / way.sand_to_metal
    return kg


def _setting_facts(
    lab: Lab, recommender: Recommender, kg: Mapping[str, float], sand_to_metal: float
) -> tuple[SettingFacts, ...]:
    now, batch_t = recommender.present(), recommender.log.usual_dry_kg / 1000.0
    return tuple(
        SettingFacts(
            feeder=name,
            label=feeder_label(lab, name),
            kg=one,
            now_kg=now[name],
            text=format_number(one, 1, mark=lab.mark),
            kg_per_t_metal=one / batch_t * sand_to_metal,
        )
        for name, one in kg.items()
        if name in now
    )


def _words(lab: Lab, courses: tuple[CourseFacts, ...], days: float) -> str:
    """What will leave its tolerance, and when; else that nothing does."""
    clauses = []
    for one in courses:
        if one.tolerance is None:
            continue
        low, high = one.tolerance
        out = next((p for p, value in enumerate(one.mean) if not low <= value <= high), None)
        if out is None:
            continue
        end = format_number(one.mean[-1], one.decimals, mark=lab.mark)
        if out == 0:
            clauses.append(f"{one.label} is outside its tolerance and will be {end} {one.unit}")
        else:
            when = _after(one.at[out], one.now)
            clauses.append(f"{one.label} leaves its tolerance after {when} and will be {end} {one.unit}")
    if not clauses:
        return f"Nothing leaves its tolerance in {days:g} days."
    return " ".join(sentence(one) for one in clauses)


def _after(moment: datetime, now: datetime) -> str:
    hours = (moment - now) / timedelta(hours=1)
    return f"{hours:.0f} h" if hours < 48.0 else f"{hours / 24.0:.1f} days"


def _cost_words(lab: Lab, cost: float, now: float) -> str:
    shown, before = (format_number(one, 2, mark=lab.mark) for one in (cost, now))
    more = "" if shown == before else f", with the settings of now {before}"
    return f"Additions cost {shown} per t of metal{more}."


def _settling(lab: Lab, settled: Settling) -> tuple[SettlingFacts, ...]:
    found = []
    for key, value in settled.prepared.items():
        text, hours = with_unit(lab.specs, key, value), settled.hours[key]
        lies = target_words(lab, key, value)
        when = f"nine tenths of the way after {hours:.0f} h of running" if hours >= 1.0 else "there already"
        found.append(
            SettlingFacts(
                name=key,
                label=lab.specs.properties[key].label,
                unit=shown_unit(display_unit(lab.specs, key)),
                value=value,
                text=text,
                hours=hours,
                words=f"{text}, {when}{'; ' + lies if lies else ''}",
            )
        )
    return tuple(found)


def _new_sand(lab: Lab, recommender: Recommender, asked: WhatIf, way: Way, at_us: int) -> NewSandFacts | None:
    """How much new sand holds the fines; None where there is no such feeder or no level to hold."""
    entry = lab.sand.targets.get("inert_fines")
    fines = asked.fines if asked.fines is not None else entry.target if entry else None
    feeder = _new_sand_feeder(lab)
    if fines is None or feeder is None:
        return None
    found = recommender.new_sand_for(at_us, fines, way=way)
    per_t = found.kg / (recommender.log.usual_dry_kg / 1000.0) * way.sand_to_metal
    return NewSandFacts(
        fines=fines,
        reached=found.fines,
        kg_per_batch=found.kg,
        kg_per_t_metal=per_t,
        binds=found.binds,
        words=_new_sand_words(lab, found, fines, per_t),
    )


def _new_sand_words(lab: Lab, found: NewSand, fines: float, per_t: float) -> str:
    kg, metal = (format_number(one, 0, mark=lab.mark) for one in (found.kg, per_t))
    wanted, reached = (text_of(lab.specs, "inert_fines", one) for one in (fines, found.fines))
    much = f"{kg} kg of new sand a batch ({metal} kg per t of metal)"
    if found.binds:
        return f"Inert fines of {wanted} % are out of reach: {found.binds} holds {reached} %."
    return f"{much} hold the inert fines at {wanted} % in the long run, clay and carbon being held."
