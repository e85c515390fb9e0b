"""The sand balance now: what is really in the sand, what goes round, what matters today."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from sandlab.balance import COMPONENTS
from sandlab.balance.forecast import Forecast
from sandlab.balance.paper import paper_flags
from sandlab.balance.recommender import Recommender
from sandlab.balance.stream import Estimated, Outlook, PlannedJob
from sandlab.errors import InputError, impossible
from sandlab.lab.additions import parts_words
from sandlab.lab.advising import latest_advice
from sandlab.lab.asking import LONGEST_DAYS, usual_way
from sandlab.lab.estimates import OUTLOOK, course, estimate, running_share, slow
from sandlab.lab.facts import (
    AdviceFacts,
    CourseFacts,
    DoseFacts,
    EstimateFacts,
    FlowFacts,
    SandBalanceFacts,
)
from sandlab.lab.flowing import flow_today
from sandlab.lab.learning import WINDOW, Told, outlook, told, window_start
from sandlab.lab.opening import Lab
from sandlab.lab.series import microseconds, moment_of
from sandlab.lab.showing import age_words, clock_text, sentence
from sandlab.labels import inside
from sandlab.quantities import format_number

AHEAD = timedelta(days=3)
SHOWN_SLOW = ("clay_wear_factor", "carbon_wear_factor", "fines_source", "carbon_source", "bond", "slope")


def balance(lab: Lab) -> SandBalanceFacts:
    """Everything the balance knows now; raises InputError where no batch was logged lately."""
    now = lab.now()
    known = known_plant(lab)
    recommender = known.recommender
    at_us = microseconds(now)
    share = running_share(recommender, now)
    ahead = recommender.forecast(at_us, max(1.0, AHEAD / timedelta(hours=1) * share))
    past = recommender.past()
    courses = tuple(course(lab, recommender, key, ahead, now=now, share=share, past=past) for key in OUTLOOK)
    prepared = _prepared(lab, ahead)
    advice = latest_advice(lab)
    flags = (*_flags(recommender), *known.doubts, *paper_flags(recommender.log, at_us))
    last = moment_of(recommender.log.at[-1])
    return SandBalanceFacts(
        now=now,
        last_batch_at=last,
        words=_words(lab, prepared, courses, flags, now - last),
        prepared=prepared,
        returned=tuple(
            estimate(lab, key, known, target=False) for key, known in recommender.returned().items()
        ),
        slow=_slow(lab, recommender),
        flow=_flow(lab, recommender, now),
        doses=tuple(DoseFacts(addition=one, words=parts_words(one, lab.mark)) for one in advice.additions)
        if advice
        else (),
        advised_at=advice.at if advice else None,
        advice_words=_advice_words(lab, advice, now),
        flags=flags,
        courses=courses,
    )


def known_plant(lab: Lab) -> Told:
    """The learned plant, told what happened lately; raises InputError where no batch was logged."""
    now = lab.now()
    found = told(lab, window_start(now, WINDOW), now)
    found.recommender.log.planned(_all_planned(lab, now))
    if not found.recommender.log.at:
        raise impossible(
            "balance", "no batch was logged in the last days", "log batches, or import them with their kg"
        )
    return found


def _all_planned(lab: Lab, now: datetime) -> Outlook:
    """The schedule; before, between and after its jobs the mix of the last days."""
    ratio, core = usual_way(lab, now)
    jobs: list[PlannedJob] = []
    free_us = microseconds(now)
    for one in sorted(outlook(lab, now).jobs, key=lambda job: job.from_us):
        if one.from_us > free_us:
            jobs.append(PlannedJob(free_us, one.from_us - 1, "", ratio, core))
        jobs.append(one)
        free_us = max(free_us, one.until_us + 1)
    end_us = microseconds(now + timedelta(days=LONGEST_DAYS + 1.0))
    return Outlook((*jobs, PlannedJob(free_us, end_us, "", ratio, core)))


def _prepared(lab: Lab, ahead: Forecast) -> tuple[EstimateFacts, ...]:
    """Prepared sand of the next batch: components, the moisture it needs, how warm it is."""
    found = []
    for key in OUTLOOK:
        mean, sd = ahead.course("temperature" if key == "sand_temperature" else key)
        found.append(estimate(lab, key, Estimated(float(mean[0]), float(sd[0]))))
    return tuple(found)


def _slow(lab: Lab, recommender: Recommender) -> tuple[EstimateFacts, ...]:
    """Slow values: the usual ones first, then feeders, lots and jobs."""
    known = recommender.learned()
    order = [*SHOWN_SLOW, *(name for name in known if name not in SHOWN_SLOW)]
    return tuple(slow(lab, name, known[name]) for name in order if name in known)


def _flow(lab: Lab, recommender: Recommender, now: datetime) -> FlowFacts | None:
    try:
        return flow_today(lab, recommender, now)
    except InputError:  # no batch in that time: the state is still worth showing
        return None


def _flags(recommender: Recommender) -> tuple[str, ...]:
    """Feeders and lots that bring clearly more or less than is logged."""
    found = []
    for name, known in recommender.learned().items():
        kind, _, which = name.partition(" ")
        if kind in ("feeder", "lot") and abs(known.value) > max(2.0 * known.sd, 0.06):
            way = "less" if known.value < 0.0 else "more"
            what = "seems to feed" if kind == "feeder" else "seems to carry"
            found.append(f"{which} {what} {abs(100.0 * known.value):.0f} % {way} than is written down")
    return tuple(found)


def _words(
    lab: Lab,
    prepared: Sequence[EstimateFacts],
    courses: Sequence[CourseFacts],
    flags: Sequence[str],
    silent: timedelta,
) -> str:
    """What matters today: what is or will be outside, what looks wrong, what nobody knows; else all well."""
    clauses = [f"{one.label} {_plain(lab, one)}: {one.words}" for one in prepared if _outside(one)]
    named = {one.name for one in prepared if _outside(one)}
    for one in courses:
        leaves = one.name in COMPONENTS and one.name not in named and _leaves(one)
        if leaves and one.tolerance:
            end = format_number(one.mean[-1], one.decimals, mark=lab.mark)
            clauses.append(f"{one.label} will be {end} {one.unit} in 3 days at these settings")
    clauses += list(flags[:1])
    clauses += [
        f"{one.label} is only known to {one.text} {one.unit}: test it" for one in prepared if _vague(one)
    ]
    if not clauses:
        steered = [one for one in prepared if one.tolerance and one.name in COMPONENTS]
        worst = max(steered, key=_share_of_tolerance, default=None)
        tail = f"; nearest to its tolerance is {inside(worst.label)}, {worst.words}" if worst else ""
        clauses = [f"The sand is within tolerance and stays so for 3 days at these settings{tail}"]
    if silent > timedelta(hours=12):
        clauses.append(f"no batch for {age_words(silent / timedelta(minutes=1))}, so the bands have widened")
    return " ".join(sentence(one) for one in clauses[:3])


def _plain(lab: Lab, one: EstimateFacts) -> str:
    return f"{format_number(one.value, one.decimals, mark=lab.mark)} {one.unit}".strip()


def _vague(one: EstimateFacts) -> bool:
    """Whether the band of a component reaches over its whole tolerance."""
    if one.tolerance is None or one.name not in COMPONENTS:
        return False
    return one.high - one.low > one.tolerance[1] - one.tolerance[0]


def _outside(one: EstimateFacts) -> bool:
    return one.tolerance is not None and not one.tolerance[0] <= one.value <= one.tolerance[1]


def _leaves(one: CourseFacts) -> bool:
    return one.tolerance is not None and not one.tolerance[0] <= one.mean[-1] <= one.tolerance[1]


def _share_of_tolerance(one: EstimateFacts) -> float:
    if one.tolerance is None or one.target is None:
        return 0.0
    return abs(one.value - one.target) / max(one.tolerance[1] - one.target, 1e-9)


def _advice_words(lab: Lab, advice: AdviceFacts | None, now: datetime) -> str:
    if advice is None:
        return "No additions have been worked out yet: F7 on the Tests screen, or sandlab advise."
    state = "released" if advice.released else "not released"
    when = clock_text(advice.at, lab.zone, now)
    return f"Worked out {when}, {state}. {advice.sentence}"
