"""The recommendation: additions per batch with their parts, what they rest on, and when to hold instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sandlab.balance.additions import limits, settable
from sandlab.balance.answer import Addition, Advice, Evidence, Expected, Miss
from sandlab.balance.batch import Mix, dry_mass
from sandlab.balance.charge import Charge, ReturnState, charge, moisture_after, return_state, water_for
from sandlab.balance.check import check
from sandlab.balance.composition import mapping
from sandlab.balance.demand import Demand, demand, demand_flags
from sandlab.balance.evidence import composition_evidence, evidence, greatest_age
from sandlab.balance.heat import Evaporation
from sandlab.balance.inputs import AdviceInputs, Feeder
from sandlab.balance.parts import misses, parts, water_parts
from sandlab.balance.steering import (
    Dose,
    ReturnSand,
    bound_words,
    clipped,
    outside_words,
    prepared,
    return_sand,
    steer,
)
from sandlab.balance.wording import hold_words, plant_flags, reason, void_words


def advise(inputs: AdviceInputs) -> Advice:
    """Additions that bring the next batches to target, as far as the evidence and the feeders allow.

    Clay and carbon by the batch balance on the return sand of the steady state on target, plus `correction`
    times the deviation of the tests from it, each of which counts with `weight`: no addition follows the last
    test in full. Water in closed form for the batch that these additions make.

    inputs: feeders, targets, muller, loop, and tests with their age [as each states]
    returns: the advice [kg per batch as weighed]

    Shapes: scalars.
    Validity: an addition whose evidence is missing, too old or doubtful is held and says so.
    Errors: InputError that lists every impossible input.
    Source: derived, the equations of batch.py, loop.py, heat.py and temper.py with their sources.
    """
    check(inputs)
    water = next(feeder for feeder in inputs.feeders if feeder.material.kind == "water")
    others = [feeder for feeder in inputs.feeders if feeder is not water]
    found = composition_evidence(inputs)
    state = return_state(inputs)
    sand = return_sand(inputs, found, dry_mass(inputs.muller.batch_kg, state.moisture))
    doses = steer(others, sand, found)
    batch = prepared(sand, doses)
    charged = charge(inputs, doses, state)
    wanted = demand(inputs, sand, doses, state=state, discharge=charged.discharge, water=water)
    watered = _water(water, charged, wanted)
    additions = (*(_addition(dose, doses, sand, batch) for dose in doses), watered)
    expected = _expected(inputs, sand, batch, charged, wanted, watered.kg, water)
    hold = hold_words({dose.feeder.id: dose.held for dose in doses} | {water.id: wanted.evidence.weak})
    steers = {dose.feeder.id: dose.steers for dose in doses if dose.steers} | {water.id: "compactability"}
    return Advice(
        additions=additions,
        expected=expected,
        misses=(*misses(doses, sand, batch, found), *_water_miss(inputs, watered, expected)),
        rests_on=(*found.values(), wanted.evidence, *_return_evidence(inputs, state)),
        flags=(*state.flags, *demand_flags(wanted), *plant_flags(inputs, expected, state.temperature)),
        void_if=void_words(inputs),
        reason=reason(inputs, additions, steers, found | {"compactability": wanted.evidence}),
        hold=bool(hold),
        hold_reason=hold,
    )


def _addition(dose: Dose, doses: Sequence[Dose], sand: ReturnSand, batch: Mix) -> Addition:
    return Addition(
        feeder=dose.feeder.id,
        material=dose.feeder.material.id,
        kind=dose.feeder.material.kind,
        kg=dose.kg,
        change_kg=round(dose.kg - dose.feeder.present_kg, 9),
        ideal_kg=dose.ideal_kg,
        parts=parts(dose, doses, sand, batch),
        binds=dose.binds,
        held=bool(dose.held),
    )


def _water(feeder: Feeder, charged: Charge, wanted: Demand) -> Addition:
    """Water as an addition: the closed form within the feeder's limits, or what is set now if held."""
    plan: Evaporation = water_for(charged, wanted.moisture, feeder.material.temperature)
    held = bool(wanted.evidence.weak)
    kg = clipped(feeder) if held else settable(feeder, plan.water_kg)
    binds = list(outside_words(feeder))
    if not held:
        bounds = limits(feeder)
        binds += bound_words(feeder, plan.water_kg, min(max(plan.water_kg, bounds.low), bounds.high))
        if not binds and abs(kg - plan.water_kg) > 1e-6:
            binds.append(f"resolution {feeder.resolution_kg:g} kg")
    return Addition(
        feeder=feeder.id,
        material=feeder.material.id,
        kind="water",
        kg=kg,
        change_kg=round(kg - feeder.present_kg, 9),
        ideal_kg=plan.water_kg,
        parts=water_parts(charged, wanted, plan, kg),
        binds=tuple(binds),
        held=held,
    )


def _expected(
    inputs: AdviceInputs,
    sand: ReturnSand,
    batch: Mix,
    charged: Charge,
    wanted: Demand,
    water_kg: float,
    water: Feeder,
) -> Expected:
    """The batch of these additions; compactability through the slope, moisture as the lab will read it."""
    moisture, lost = moisture_after(charged, water_kg, water.material.temperature)
    goal = next(t.target for t in inputs.targets if t.property == "compactability")
    compactability = goal + inputs.slope * (moisture - wanted.level.value - wanted.trim)
    return Expected(
        composition=mapping(batch.composition),
        return_composition=mapping(sand.composition),
        moisture=max(0.0, moisture + wanted.lab_bias),
        compactability=min(max(compactability, 0.0), 100.0),
        discharge_temperature=charged.discharge,
        evaporated_kg=lost,
    )


def _water_miss(inputs: AdviceInputs, water: Addition, expected: Expected) -> tuple[Miss, ...]:
    """Compactability as a missed target where a limit of the water feeder binds."""
    target = next(t for t in inputs.targets if t.property == "compactability")
    binding = [text for text in water.binds if not text.startswith("resolution")]
    if water.held or not binding:
        return ()
    because = f"{water.feeder} at its {', '.join(binding)}"
    return (Miss(target.property, target.target, expected.compactability, target.tolerance, because),)


def _return_evidence(inputs: AdviceInputs, state: ReturnState) -> tuple[Evidence, ...]:
    """Moisture and temperature of the return sand as they were used."""
    used = {"return_moisture": state.moisture, "return_temperature": state.temperature}
    found = []
    for name, value in used.items():
        limit = greatest_age(name, inputs.targets)
        known = evidence(
            name, inputs.tests.get(name, ()), value, weight=inputs.weight, greatest_age_min=limit
        )
        found.append(replace(known, value=value))
    return tuple(found)
