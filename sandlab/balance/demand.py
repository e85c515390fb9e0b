"""The moisture to aim at: level by the clay, corrected by what filtered compactability tests say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sandlab.balance.answer import Evidence
from sandlab.balance.charge import ReturnState, charge, moisture_after
from sandlab.balance.composition import mapping
from sandlab.balance.evidence import evidence, greatest_age, nearest_in_time
from sandlab.balance.filtering import exponentially_weighted
from sandlab.balance.inputs import AdviceInputs, Feeder, Reading, TemperTest
from sandlab.balance.steering import Dose, ReturnSand, prepared
from sandlab.balance.temper import LEVEL_SD, moisture_demand
from sandlab.methods.outcome import Outcome

DRIEST, WETTEST = 0.1, 15.0  # % moisture that the balance will aim at


@dataclass(frozen=True, slots=True)
class Demand:
    """Moisture to aim at.

    level: by the curve or the plant's fit, for the coming batch
    trim: filtered moisture that the tested batches needed above their level [%]
    lab_bias: filtered moisture that the lab reads above the balance [%]
    evidence: the compactability tests behind it
    """

    level: Outcome
    trim: float
    lab_bias: float
    evidence: Evidence

    @property
    def moisture(self) -> float:
        """The moisture to aim at, on the balance's own scale [% of moist]."""
        return min(max(self.level.value + self.trim, DRIEST), WETTEST)


def demand(
    inputs: AdviceInputs,
    sand: ReturnSand,
    doses: Sequence[Dose],
    *,
    state: ReturnState,
    discharge: float,
    water: Feeder,
) -> Demand:
    """The moisture to aim at: the level of the coming batch plus what tested batches needed more, filtered.

    Each tested batch shows what moisture it would have needed: the moisture it had by this same balance (by
    its water, else by its test) plus its compactability error through the slope. On the balance's own scale
    a wrong return moisture or evaporation is corrected with it, and a test counts once however often it is
    asked. Tests are held against the level at the present settings, so that a change of clay or carbon is
    fed forward.
    """
    wanted = next(t.target for t in inputs.targets if t.property == "compactability")

    def level(settings: Sequence[Dose]) -> Outcome:
        composition = mapping(prepared(sand, settings).composition)
        return moisture_demand(composition, wanted, inputs.demand, discharge, inputs.slope)

    now = [replace(dose, kg=dose.feeder.present_kg) for dose in doses]
    before = level(now).value
    tests = sorted(inputs.temper_tests, key=lambda test: -test.age_min)
    had = [_moisture_by_balance(inputs, now, test, state, water.material.temperature) for test in tests]
    bias = _lab_bias(tests, had, inputs.weight)
    needs = [
        (start + (wanted - test.compactability) / inputs.slope - before, test.doubtful)
        for test, by_balance in zip(tests, had, strict=True)
        if (start := _first(by_balance, test.moisture, bias)) is not None
    ]
    trim = _filtered(needs, inputs.weight)
    return Demand(level(doses), trim, bias, _evidence(inputs, tests, wanted, usable=len(needs)))


def _first(by_balance: float | None, tested: float | None, bias: float) -> float | None:
    """Moisture of a tested batch on the balance's scale: by its water, else by its test, else unknown."""
    if by_balance is not None:
        return by_balance
    return None if tested is None else tested - bias


def _filtered(values: Sequence[tuple[float, bool]], weight: float) -> float:
    return exponentially_weighted(
        [value for value, _ in values], 0.0, weight=weight, doubtful=[doubt for _, doubt in values]
    )


def _lab_bias(tests: Sequence[TemperTest], had: Sequence[float | None], weight: float) -> float:
    """How much more moisture the lab finds than the balance expects of the same batches, filtered [%]."""
    gaps = [
        (test.moisture - by_balance, test.doubtful)
        for test, by_balance in zip(tests, had, strict=True)
        if by_balance is not None and test.moisture is not None
    ]
    return _filtered(gaps, weight)


def _moisture_by_balance(
    inputs: AdviceInputs,
    doses: Sequence[Dose],
    test: TemperTest,
    state: ReturnState,
    water_temperature: float,
) -> float | None:
    """Moisture of a tested batch by the balance from the water really added, None where that is unknown.

    Return sand that was not tested with it is taken from the test nearest in time.
    """
    if test.water_kg is None:
        return None
    then = replace(
        state,
        moisture=_known(test.return_moisture, "return_moisture", test.age_min, inputs, state.moisture),
        temperature=_known(
            test.return_temperature, "return_temperature", test.age_min, inputs, state.temperature
        ),
    )
    return moisture_after(charge(inputs, doses, then), test.water_kg, water_temperature)[0]


def _known(value: float | None, name: str, age_min: float, inputs: AdviceInputs, default: float) -> float:
    return nearest_in_time(name, age_min, inputs, default) if value is None else value


def _evidence(inputs: AdviceInputs, tests: Sequence[TemperTest], wanted: float, *, usable: int) -> Evidence:
    readings = [Reading(test.compactability, test.age_min, test.doubtful) for test in tests]
    limit = greatest_age("compactability", inputs.targets)
    found = evidence("compactability", readings, wanted, weight=inputs.weight, greatest_age_min=limit)
    if found.weak or usable:
        return found
    return replace(found, weak="no compactability test has the moisture or the water of its batch beside it")


def demand_flags(wanted: Demand) -> tuple[str, ...]:
    """What is doubtful about the moisture to aim at."""
    flags = [*wanted.level.flags]
    if abs(wanted.trim) > 3.0 * LEVEL_SD:
        flags.append(
            f"the sand asks for {wanted.trim:+.1f} % moisture against the level expected of its clay: "
            "check water meter, return moisture and sampling"
        )
    if wanted.level.value + wanted.trim != wanted.moisture:
        flags.append(f"the moisture asked for lies outside {DRIEST:g} to {WETTEST:g} % and was cut")
    return tuple(flags)
