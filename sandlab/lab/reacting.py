"""The reaction plan at work: steps that results and charts call for, and who has taken them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from sandlab import schedule
from sandlab.errors import InputError, Problem, nearest
from sandlab.lab.charting import chart_alarms
from sandlab.lab.facts import StepFacts, StepsFacts
from sandlab.lab.opening import Lab
from sandlab.lab.showing import age_words, clock_text, with_unit
from sandlab.reactions import Triggered, past_reaction, triggered
from sandlab.records import StepDone

BACK = 30
"""Tests looked back on for the first one of an unbroken run past a reaction limit."""

CHART_STEP = timedelta(hours=12)
"""A step taken for a chart's signal counts for that long; a limit's counts until a test is inside again."""

Run = tuple[str, datetime, float]
"""Sample and time at which it began, and the newest value."""


def steps_due(lab: Lab) -> StepsFacts:
    """Every step called for now, open ones first, then by when they are due."""
    now = lab.now()
    runs = {key: run for key in lab.sand.targets if (run := _run(lab, key)) is not None}
    charted = {one.property for one in lab.specs.reactions.values() if one.signal.endswith("_limit")}
    alarms = chart_alarms(lab, sorted(charted)) if charted else {}
    found = triggered(
        lab.specs.reactions,
        lab.sand.targets,
        newest={key: run[2] for key, run in runs.items()},
        alarms={key: side for key, (side, _) in alarms.items()},
    )
    steps: list[StepFacts] = []
    for one in found:
        run = runs.get(one.property)
        if run is not None:
            reason = _reason(lab, one, alarms.get(one.property, ("", ""))[1])
            steps += _steps(lab, one, run, reason, now)
    order = sorted(steps, key=lambda step: (step.done_at is not None, step.due_at))
    numbered = tuple(one.model_copy(update={"number": place}) for place, one in enumerate(order, start=1))
    open_ = sum(one.done_at is None for one in numbered)
    return StepsFacts(now=now, steps=numbered, open=open_, words=_words(len(numbered), open_))


def mark_step(lab: Lab, *, property: str, signal: str, step: str, by: str, found: str = "") -> StepsFacts:
    """Say that a step has been taken, by whom and what was found; raises InputError when it is not due."""
    present = steps_due(lab).steps
    mine = [one for one in present if (one.property, one.signal, one.step) == (property, signal, step)]
    problems = []
    if not by.strip():
        problems.append(Problem("technician", "no initials", "type your initials first"))
    if not mine:
        hint = nearest(step, [one.step for one in present]) if present else "no step is due"
        problems.append(Problem("step", f"'{step}' is not due", hint))
    elif mine[0].done_at is not None:
        what = f"was done by {mine[0].done_by} already"
        problems.append(Problem("step", what, "look at the list once more"))
    if problems:
        raise InputError(problems)
    now = lab.now()
    record = StepDone(
        id=lab.new_id(),
        system=lab.system,
        at=now,
        by=by.strip(),
        recorded_at=now,
        reason=found.strip(),
        sample=mine[0].sample,
        property=property,
        signal=signal,
        step=step,
    )
    lab.store.save([record])
    return steps_due(lab)


def _run(lab: Lab, key: str) -> Run | None:
    """The newest value, with the first sample of the unbroken run on the same side of the reaction limits."""
    frame = lab.store.results(lab.system, key, point=schedule.home_point(lab.sand, key), last=BACK)
    rows = list(frame.select("sample", "taken_at", "value").iter_rows())
    if not rows:
        return None
    target = lab.sand.targets[key]
    side = past_reaction(rows[-1][2], target)
    first = rows[-1]
    for row in reversed(rows[:-1]):
        if not side or past_reaction(row[2], target) != side:
            break
        first = row
    return first[0], first[1], rows[-1][2]


def _steps(lab: Lab, one: Triggered, run: Run, reason: str, now: datetime) -> list[StepFacts]:
    sample, since, _ = run
    counts = since if one.signal.startswith("past_reaction") else now - CHART_STEP
    done = _done(lab, one, counts)
    due_at = since + timedelta(minutes=one.within_min)
    late = max(0, int((now - due_at) / timedelta(minutes=1)))
    return [
        StepFacts(
            number=0,
            property=one.property,
            label=lab.specs.properties[one.property].label,
            signal=one.signal,
            reason=reason,
            step=step,
            who=one.who,
            sample=sample,
            since=since,
            due_at=due_at,
            minutes_late=0 if step in done else late,
            done_at=done[step].at if step in done else None,
            done_by=done[step].by if step in done else "",
            found=done[step].reason if step in done else "",
            words=_step_words(lab, step, done.get(step), due_at, late, now),
        )
        for step in one.steps
    ]


def _done(lab: Lab, one: Triggered, since: datetime) -> dict[str, StepDone]:
    stored = lab.store.records(StepDone, lab.system, since=since)
    return {each.step: each for each in stored if (each.property, each.signal) == (one.property, one.signal)}


def _reason(lab: Lab, one: Triggered, chart: str) -> str:
    label = lab.specs.properties[one.property].label
    if chart and not one.signal.startswith("past_reaction"):
        return f"{label}: {chart}"
    value = with_unit(lab.specs, one.property, one.value, apart_from=one.limit)
    limit = with_unit(lab.specs, one.property, one.limit)
    side = "below" if one.signal.endswith("low") else "above"
    return f"{label} {value} is {side} the reaction limit {limit}"


def _step_words(
    lab: Lab, step: str, done: StepDone | None, due_at: datetime, late: int, now: datetime
) -> str:
    if done is not None:
        found = f": {done.reason}" if done.reason else ""
        return f"{step} - done {clock_text(done.at, lab.zone, now)} by {done.by}{found}"
    when = f"{age_words(late)} late" if late else f"by {clock_text(due_at, lab.zone, now)}"
    return f"{step} - {when}"


def _words(count: int, open_: int) -> str:
    if not count:
        return "No result and no chart calls for a step of the reaction plan."
    return (
        f"{open_} of {count} steps of the reaction plan open." if open_ else "Every step due has been taken."
    )


def next_step(steps: Sequence[StepFacts]) -> str:
    """The most urgent open step, by when first, as a line may be cut at its end; empty when none is open."""
    first = next((one for one in steps if one.done_at is None), None)
    if first is None:
        return ""
    return f"{first.words.removeprefix(f'{first.step} - ')}: {first.label}: {first.step}"
