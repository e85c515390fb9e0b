"""Logging what the plant did: batches made, deliveries, production."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sandlab.errors import InputError, Problem, nearest
from sandlab.lab.conditions import newest_release
from sandlab.lab.entry import CLOCK_SLACK
from sandlab.lab.facts import BatchFacts
from sandlab.lab.opening import Lab
from sandlab.lab.showing import clock_text
from sandlab.records import Batch


def log_batch(
    lab: Lab,
    *,
    added_kg: Mapping[str, float],
    by: str,
    return_sand_kg: float | None = None,
    at: datetime | None = None,
) -> Batch:
    """Record the kilograms that really went into a batch; raises InputError with every problem."""
    problems = [
        Problem(name, "is not a feeder", nearest(name, list(lab.sand.feeders)))
        for name in added_kg
        if name not in lab.sand.feeders
    ]
    problems += [
        Problem(
            lab.specs.materials[feeder.material].label,
            f"{kg:g} kg is impossible",
            f"its feeder gives 0 to {feeder.maximum_kg:g} kg",
        )
        for name, kg in added_kg.items()
        if (feeder := lab.sand.feeders.get(name)) is not None and not 0.0 <= kg <= feeder.maximum_kg
    ]
    if not by.strip():
        problems.append(Problem("operator", "no initials", "give your initials"))
    now = lab.now()
    problems += not_yet(lab, at or now)
    if problems:
        raise InputError(problems)
    last = lab.store.records(Batch, lab.system, last=1)
    release = newest_release(lab)
    batch = Batch(
        id=lab.new_id(),
        system=lab.system,
        at=at or now,
        by=by.strip(),
        recorded_at=now,
        number=last[-1].number + 1 if last else 1,
        return_sand_kg=lab.sand.muller.batch_kg if return_sand_kg is None else return_sand_kg,
        added_kg=dict(added_kg),
        recommendation=release.recommendation if release else None,
    )
    lab.store.save([batch])
    return batch


def batch_facts(lab: Lab, made: Batch) -> BatchFacts:
    """A logged batch as an answer."""
    went = (
        f"{name.replace('_', ' ')} {kg:g} kg".replace(".", lab.mark) for name, kg in made.added_kg.items()
    )
    return BatchFacts(
        batch=made.id,
        number=made.number,
        at=made.at,
        by=made.by,
        return_sand_kg=made.return_sand_kg,
        added_kg=made.added_kg,
        recommendation=made.recommendation,
        text=f"Batch {made.number}: {', '.join(went)}",
    )


def not_yet(lab: Lab, at: datetime) -> list[Problem]:
    """What is wrong with a time at which something is said to have happened: it has not come yet."""
    now = lab.now()
    if at <= now + CLOCK_SLACK:
        return []
    what = f"{clock_text(at, lab.zone, now)} is in the future"
    return [Problem("time", what, "correct the time or the clock")]
