"""A plan of doses put into words: additions with parts, uncertainty, what they rest on, when to hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from sandlab.balance.answer import Addition, Evidence, Part
from sandlab.balance.batch import Mix
from sandlab.balance.composition import COMPONENTS
from sandlab.balance.doses import Plan
from sandlab.balance.evidence import age_words, words
from sandlab.balance.kalman import Doubt
from sandlab.balance.log import Log
from sandlab.balance.loop import DOUBTFUL_BURN
from sandlab.balance.parts import misses, parts
from sandlab.balance.sand_filter import SandFilter, SandState
from sandlab.balance.steering import Dose, prepared
from sandlab.balance.stream import HOUR_US, MINUTE_US, Estimated, PlantModel, Receipt, Recommendation
from sandlab.balance.wording import (
    HOLD_H,
    brief_words,
    change_words,
    doubt_words,
    fresh,
    hold_words,
)

# What tells a component by itself; working bond only once one of these has told its level.
TOLD_BY = {
    "active_clay": ("active_clay", "afs_clay"),
    "volatiles": ("volatiles", "loss_on_ignition"),
    "fixed_carbon": ("fixed_carbon", "loss_on_ignition"),
    "inert_fines": ("inert_fines", "afs_clay"),
}
VIEWED_BY = {
    "active_clay": ("active_clay", "green_compression_strength", "afs_clay"),
    "volatiles": ("volatiles", "loss_on_ignition"),
    "fixed_carbon": ("fixed_carbon", "loss_on_ignition"),
    "inert_fines": ("inert_fines", "afs_clay"),
}


def evidences(
    sand_filter: SandFilter, state: SandState, at_us: int, estimate: Mapping[str, Estimated]
) -> dict[str, Evidence]:
    """For each component what is known of it, its last direct test, and why it is too weak to steer by."""
    log = sand_filter.log
    targets = {t.property: t for t in sand_filter.plant.targets}
    voice = sand_filter.plant.voice
    found = {}
    for name in COMPONENTS:
        seen = [log.newest[view] for view in VIEWED_BY[name] if view in log.newest]
        last = log.newest.get(name, max(seen, default=None))
        count = log.counts[name] or sum(log.counts[view] for view in VIEWED_BY[name])
        known, target = estimate[name], targets.get(name)
        weak = ""
        if not any(view in log.newest for view in TOLD_BY[name]):
            weak = f"no test of {words(name)}"
        elif target is not None and known.sd > target.tolerance:
            weak = f"{words(name)} is only known to +/- {voice.of(name, 1.645 * known.sd)}"
        elif target is not None and (doubtful := _doubtful(log, state, name, at_us)) is not None:
            weak = f"the last {words(name)} result, {voice.of(name, doubtful)}, is doubtful"
        age = None if last is None else max(0.0, (at_us - last[0]) / MINUTE_US)
        found[name] = Evidence(name, known.value, None if last is None else last[2], age, count, weak)
    return found


def _doubtful(log: Log, state: SandState, name: str, at_us: int) -> float | None:
    """The last result of a property, where the filter or a person doubts it and no repeat has come."""
    last = log.newest.get(name)
    if last is None or at_us - last[0] >= HOLD_H * HOUR_US:
        return None
    if last[4]:
        return last[2]
    doubt = _unrepeated(log, state, name, at_us)
    return None if doubt is None else doubt.value


def _unrepeated(log: Log, state: SandState, name: str, at_us: int) -> Doubt | None:
    """The result of a property that the filter doubts, as long as it waits for its repeat."""
    last = next((one for one in reversed(state.doubts) if one.property == name), None)
    if last is None or last.again or not fresh(last, at_us) or log.tests_since(name, last.taken_us) > 1:
        return None
    return last


def recommendation(
    sand_filter: SandFilter,
    state: SandState,
    found: Mapping[str, Evidence],
    plan: Plan,
    at_us: int,
    returned: Mapping[str, Estimated],
) -> Recommendation:
    """The plan as an answer."""
    batch = prepared(plan.sand, plan.doses)
    additions = tuple(
        Addition(
            feeder=dose.feeder.id,
            material=dose.feeder.material.id,
            kind=dose.feeder.material.kind,
            kg=dose.kg,
            change_kg=round(dose.kg - present, 9),
            ideal_kg=dose.ideal_kg,
            parts=_parts(dose, plan, batch, present),
            binds=dose.binds,
            held=bool(dose.held),
        )
        for dose, present in zip(plan.doses, plan.present_kg.tolist(), strict=True)
    )
    hold = hold_words({dose.feeder.id: dose.held for dose in plan.doses})
    full, brief = _reason(sand_filter, at_us, additions, plan, found)
    _, sds = sand_filter.prepared(plan.ahead, plan.charged)
    return Recommendation(
        at_us=at_us,
        additions=additions,
        sd_kg=_sd_kg(plan, sds.tolist()),
        prepared={
            name: Estimated(value, sd)
            for name, value, sd in zip(COMPONENTS, batch.composition.tolist(), sds.tolist(), strict=True)
        },
        returned=returned,
        misses=misses(plan.doses, plan.sand, batch, found),
        rests_on=tuple(found.values()),
        flags=_flags(sand_filter, state, plan, at_us),
        void_if=_void(sand_filter.plant),
        reason=full,
        brief=brief,
        hold=bool(hold),
        hold_reason=hold,
    )


def _parts(dose: Dose, plan: Plan, batch: Mix, present: float) -> tuple[Part, ...]:
    """What an addition is for; new sand that was moved is for the inert fines."""
    if dose.feeder.material.kind == "new_sand" and dose.kg != present:
        return Part("held", present), Part("inert_fines", dose.kg - present)
    return parts(dose, plan.doses, plan.sand, batch)


def _sd_kg(plan: Plan, sds: Sequence[float]) -> dict[str, float]:
    """Each addition's sd: what is not known of its component, over what one kg of it brings."""
    spread = {}
    for dose in plan.doses:
        if dose.steers is None:
            continue
        place = COMPONENTS.index(dose.steers)
        per_kg = dose.feeder.material.dry_share * float(dose.feeder.material.assay_vector[place])
        spread[dose.feeder.id] = plan.sand.dry_kg * sds[place] / per_kg
    return spread


def _flags(sand_filter: SandFilter, state: SandState, plan: Plan, at_us: int) -> tuple[str, ...]:
    voice = sand_filter.plant.voice
    names = dict.fromkeys(doubt.property for doubt in state.doubts)
    waiting = [_unrepeated(sand_filter.log, state, name, at_us) for name in names]
    flags = [doubt_words(doubt, at_us, voice) for doubt in waiting if doubt is not None]
    mean = plan.ahead.mean
    burnt = sand_filter.passage.burnt(
        plan.charged.sand_to_metal,
        float(mean[sand_filter.clay_wear]),
        float(mean[sand_filter.carbon_wear]),
    )
    if max(burnt) > DOUBTFUL_BURN:
        flags.append("more than half of a component burns in one cycle: check wear factor and sand:metal")
    arriving = mean[sand_filter.feed] + mean[sand_filter.lot]
    for place, feeder in enumerate(sand_filter.log.feeders):
        row = np.zeros(sand_filter.size)
        row[sand_filter.feed.start + place] = row[sand_filter.lot.start + place] = 1.0
        sd = plan.ahead.of(row)
        if abs(arriving[place]) > max(2.0 * sd, 0.08):
            flags.append(
                f"{words(feeder.id)} seems to bring {100.0 * arriving[place]:+.0f} % "
                f"(+/- {164.5 * sd:.0f}) of what is logged: weigh it out, ask for its assay"
            )
    return tuple(flags)


def _void(plant: PlantModel) -> tuple[str, ...]:
    lots = [f.material.id for f in plant.feeders if f.material.kind in ("clay", "carbon", "premix")]
    return (
        "a newer test of a steered property",
        "another job than planned: other sand:metal or core sand",
        f"a new lot of {', '.join(lots)}" if lots else "a new lot of any material",
        f"after {plant.interval_h:g} h",
    )


def _reason(
    sand_filter: SandFilter,
    at_us: int,
    additions: Sequence[Addition],
    plan: Plan,
    found: Mapping[str, Evidence],
) -> tuple[str, str]:
    """What is known of each steered component and what follows, in full and shortly; a fresh lot is named."""
    clauses, briefs, voice = [], [], sand_filter.plant.voice
    steers = {dose.feeder.id: dose.steers for dose in plan.doses}
    for target in plan.sand.targets:
        own = [a for a in additions if steers[a.feeder] == target.property]
        if not own:
            continue
        moved = [change_words(a, voice) for a in own]
        known = found[target.property]
        age = "never tested" if known.age_min is None else f"last test {age_words(known.age_min)} ago"
        if known.age_min is not None and known.weak and any(a.held for a in own):
            age = f"{age}; {known.weak}"
        label = f"{words(target.property)} {voice.of(target.property, known.value)}"
        wanted = voice.of(target.property, target.target)
        clauses.append(f"{label} ({age}) against {wanted}: {', '.join(moved)}")
        briefs.append(brief_words(label, wanted, own))
    new_sand = [a for a in additions if a.kind == "new_sand" and a.change_kg]
    fines = next((t for t in sand_filter.plant.targets if t.property == "inert_fines"), None)
    if new_sand and fines is not None:
        label = f"inert fines {voice.of('inert_fines', found['inert_fines'].value)}"
        wanted = voice.of("inert_fines", fines.target)
        clauses.append(f"{label} against {wanted}: {', '.join(change_words(a, voice) for a in new_sand)}")
        briefs.append(brief_words(label, wanted, new_sand))
    day_us = 24 * HOUR_US
    for lot in sand_filter.log.lots_between(at_us - day_us, at_us):
        assay = ", ".join(f"{words(name)} {voice.of(name, value)}" for name, value in lot.assay.items())
        clauses.append(f"new lot {lot.lot} of {words(lot.material)}{': ' + assay if assay else ', no assay'}")
        if _differs(sand_filter, lot):
            briefs.append(clauses[-1])
    return _sentence(clauses), _sentence(briefs)


def _differs(sand_filter: SandFilter, lot: Receipt) -> bool:
    """Whether a lot's certificate says something else than was reckoned with before it, by more than 1 %."""
    feeders = sand_filter.log.feeders
    place = next(i for i, feeder in enumerate(feeders) if feeder.material.id == lot.material)
    before = sand_filter.log.assays_at(lot.at_us - 1)[0][place].tolist()
    known = dict(zip(COMPONENTS, before, strict=True))
    return any(abs(value - known[name]) > 0.01 * max(known[name], 1.0) for name, value in lot.assay.items())


def _sentence(clauses: Sequence[str]) -> str:
    text = "; ".join(clauses) or "nothing is steered"
    return f"{text[0].upper()}{text[1:]}."
