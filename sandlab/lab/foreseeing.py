"""What jobs and settings lead to over days: bands, cost, steady state, new sand against rising fines."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from sandlab.balance.forecast import NewSand, Settling
from sandlab.balance.log import Way
from sandlab.balance.recommender import Recommender
from sandlab.errors import InputError
from sandlab.lab.asking import (
    WhatIf,
    core_sand,
    new_sand_feeder,
    poured_jobs,
    settings,
    usual_way,
    way_of,
    what_if_problems,
)
from sandlab.lab.balancing import known_plant
from sandlab.lab.estimates import OUTLOOK, course, feeder_label, running_share, target_words
from sandlab.lab.facts import (
    CourseFacts,
    NewSandFacts,
    SandForecastFacts,
    SettingFacts,
    SettlingFacts,
)
from sandlab.lab.learning import outlook
from sandlab.lab.opening import Lab
from sandlab.lab.series import microseconds
from sandlab.lab.showing import display_unit, sentence, shown_unit, text_of, with_unit
from sandlab.labels import inside
from sandlab.quantities import format_number


@dataclass(frozen=True, slots=True)
class Question:
    """A what-if with the plant it is asked of, apart from the store: a thread of its own may reckon it.

    way: the job that is run, in the long run too; `other` when it is not what is planned, then as lately
    """

    lab: Lab
    recommender: Recommender
    asked: WhatIf
    now: datetime
    way: Way
    job: str
    other: bool


def forecast(lab: Lab, asked: WhatIf | None = None) -> SandForecastFacts:
    """The days ahead at these jobs and settings; raises InputError with every problem."""
    return reckon(question(lab, asked or WhatIf()))


def question(lab: Lab, asked: WhatIf) -> Question:
    """Check what is asked and gather what it rests on; raises InputError with every problem."""
    jobs = poured_jobs(lab)
    problems = what_if_problems(lab, asked, jobs)
    if problems:
        raise InputError(problems)
    recommender, now = known_plant(lab).recommender, lab.now()
    way, job = way_of(recommender, asked, jobs, usual_way(lab, now))
    other = bool(asked.jobs) or asked.sand_to_metal is not None or asked.core_sand_t_per_t is not None
    if not other and outlook(lab, now).jobs:
        job = f"as planned, then {job}"
    return Question(lab, recommender, asked, now, way, job, other)


def reckon(one: Question, progress: Callable[[float], None] = lambda share: None) -> SandForecastFacts:
    """The answer; reads nothing from the store. `progress` is told the share done and may raise to end it."""
    lab, recommender, asked, way = one.lab, one.recommender, one.asked, one.way
    at_us, share = microseconds(one.now), running_share(recommender, one.now)
    kg = settings(lab, recommender, asked, way)
    hours = max(1.0, 24.0 * asked.days * share)
    progress(0.1)
    ahead = recommender.forecast(at_us, hours, kg, way=way if one.other else None)
    priced, present = (recommender.forecast(at_us, 0.0, one_kg, way=way) for one_kg in (kg, None))
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
        core_sand_t_per_t=core_sand(recommender, way),
        settings=_setting_facts(lab, recommender, kg, way.sand_to_metal),
        words=_words(lab, courses, settled, asked.days),
        courses=courses,
        cost_per_t_sand=priced.cost_per_t_sand,
        cost_per_t_metal=priced.cost_per_t_metal,
        cost_now_per_t_metal=present.cost_per_t_metal,
        cost_words=_cost_words(lab, priced.cost_per_t_metal, present.cost_per_t_metal),
        settling=_settling(lab, settled),
        new_sand=_new_sand(lab, recommender, asked, way, at_us),
    )


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


def _words(lab: Lab, courses: tuple[CourseFacts, ...], settled: Settling, days: float) -> str:
    """What will leave its tolerance, and when, in these days or later; else that nothing does."""
    clauses, named = [], set()
    for one in courses:
        if one.tolerance is None:
            continue
        low, high = one.tolerance
        out = next((p for p, value in enumerate(one.mean) if not low <= value <= high), None)
        if out is None:
            continue
        named.add(one.name)
        end = format_number(one.mean[-1], one.decimals, mark=lab.mark)
        if out == 0:
            clauses.append(f"{one.label} is outside its tolerance and will be {end} {one.unit}")
        else:
            when = _after(one.at[out], one.now)
            clauses.append(f"{one.label} leaves its tolerance after {when} and will be {end} {one.unit}")
    if not clauses:
        clauses.append(f"Nothing leaves its tolerance in {days:g} days")
    later = [
        f"{inside(lab.specs.properties[key].label)} goes to {with_unit(lab.specs, key, value)}"
        for key, value in settled.prepared.items()
        if key not in named and "outside" in target_words(lab, key, value)
    ]
    if later:
        clauses.append(f"in the long run {' and '.join(later)}, outside tolerance")
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
    feeder = new_sand_feeder(lab)
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
    if found.binds and found.fines < fines:
        least = f"{kg} kg a batch, the least that is fed," if found.kg > 0.0 else "no new sand at all"
        return (
            f"Inert fines stay below {wanted} % anyway: {least} leaves them at {reached} % in the long run."
        )
    if found.binds:
        most = f"{kg} kg a batch, the most that is fed, leaves them at {reached} % in the long run"
        return f"New sand cannot hold the inert fines at {wanted} %: {most}."
    return f"{much} hold the inert fines at {wanted} % in the long run, clay and carbon being held."
