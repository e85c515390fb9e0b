"""Runs plants side by side, batch by batch, with their people's corrections; keeps what the lab saw."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sandlab.plant.calendar import Calendar
from sandlab.plant.drivers import Drivers, Floats, draw
from sandlab.plant.faults import Fault
from sandlab.plant.loop import Circuit, Dose, Surroundings
from sandlab.plant.parameters import (
    CLAY,
    CLAY_TARGET,
    COMPACTABILITY_TARGET,
    COUNT,
    DRY,
    JOBS,
    NEW_CLAY,
    USUAL_AMBIENT,
    USUAL_COOLED_MOISTURE,
    VOLATILES,
    VOLATILES_TARGET,
    Parameters,
)
from sandlab.plant.people import Recipe
from sandlab.plant.sand import active_clay, compactability, of_return, properties, volatiles
from sandlab.plant.visits import NOISE, Visits, plan, sets_due

SETTLING_BATCHES = 3000
MEAN_ASSAY = 0.988
KG_PER_POINT = 1.0 / 1.65
# What a batch meets on its way, and what chance does at the muller: fields of Drivers.
WAY = ("ambient", "sand_to_metal", "core_share", "cooled_moisture", "return_extra")
LUCK = (
    "gap_hours",
    "probe",
    "water_bias",
    "water_scatter",
    "bentonite_factor",
    "carbon_factor",
    "clay_assay",
)


@dataclass(frozen=True, slots=True)
class Course:
    """What happened at one plant: prepared and return sand at each visit (NaN if missed), kg per batch.

    `recorded` has the columns water, bentonite, carbon, new sand, and is empty unless asked for.
    """

    calendar: Calendar
    drivers: Drivers
    visits: Visits
    recipe: Recipe
    prepared: Floats
    returned: Floats
    recorded: Floats

    def measured(self) -> dict[str, Floats]:
        """Every property as the laboratory would report it at every visit, not yet rounded."""
        true = properties(self.prepared, self.drivers.parameters.temper_level) | of_return(self.returned)
        return {name: true[name] + self.visits.error(name, slice(None)) for name in NOISE}


def run(
    plants: Sequence[tuple[int, Sequence[Fault]]], calendar: Calendar, *, keep_batches: bool = False
) -> tuple[list[Course], Circuit]:
    """The course of each plant (seed and faults), and the circuit they ended with."""
    drivers = [draw(seed, calendar, faults) for seed, faults in plants]
    visits = [
        plan(seed, calendar, driver.slots, faults)
        for (seed, faults), driver in zip(plants, drivers, strict=True)
    ]
    circuit, recipes = settle([driver.parameters for driver in drivers])
    shift = _Shift(calendar, drivers, visits, recipes, circuit, keep_batches)
    for batch in range(max(driver.slots.size for driver in drivers)):
        shift.make(batch)
    return shift.courses(), circuit


def settle(plants: Sequence[Parameters]) -> tuple[Circuit, list[Recipe]]:
    """Circuits run without luck until their sand is on target, and the recipe that then holds it."""
    circuit, count = Circuit.filled(plants), len(plants)
    ones = np.ones(count)
    metal = len(JOBS) / sum(1.0 / job.sand_to_metal for job in JOBS)
    core = sum(job.core_share * job.weight for job in JOBS)
    around = Surroundings.of(
        circuit.own,
        USUAL_AMBIENT * ones,
        metal * ones,
        core * ones,
        USUAL_COOLED_MOISTURE * ones,
        0.0 * ones,
    )
    dose = Dose(24.0 * ones, 10.0 * ones, 8.0 * ones, MEAN_ASSAY * ones)
    level = circuit.own["temper_level"]
    seen: dict[str, Floats] = {}
    for _ in range(SETTLING_BATCHES):
        batch = circuit.charge()
        seen = of_return(batch)
        prepared = circuit.mull(batch, dose, around.ambient)
        _towards_target(dose, prepared, circuit, level)
        circuit.store(prepared, around)
    recipes = [
        Recipe(
            *(float(values[plant]) for values in (dose.water, dose.bentonite, dose.carbon, *seen.values()))
        )
        for plant in range(count)
    ]
    circuit.ledger = type(circuit.ledger).empty(count)
    return circuit, recipes


def _towards_target(dose: Dose, prepared: Floats, circuit: Circuit, level: Floats) -> None:
    """Changes the doses by what the prepared batch lacks."""
    dry = prepared[DRY].sum(axis=0)
    own = circuit.own
    clay = prepared[CLAY] + prepared[NEW_CLAY]
    dose.bentonite = dose.bentonite + 0.3 * (CLAY_TARGET / 100.0 * dry - clay)
    missing = VOLATILES_TARGET / 100.0 * dry - prepared[VOLATILES]
    dose.carbon = dose.carbon + 0.3 * missing / own["coal_volatiles"]
    compact = compactability(prepared, level)
    dose.water = dose.water + 0.5 * (COMPACTABILITY_TARGET - compact) * KG_PER_POINT


class _Shift:
    """Makes the batches and passes each result to the people when it is known."""

    def __init__(
        self,
        calendar: Calendar,
        drivers: list[Drivers],
        visits: list[Visits],
        recipes: list[Recipe],
        circuit: Circuit,
        keep_batches: bool,
    ) -> None:
        self.calendar, self.drivers, self.visits = calendar, drivers, visits
        self.recipes, self.circuit = recipes, circuit
        self.count = max(driver.slots.size for driver in drivers)
        hours = len(calendar.hours)
        self.prepared = np.full((len(drivers), COUNT, hours), np.nan)
        self.returned = np.full((len(drivers), COUNT, hours), np.nan)
        self.recorded = np.zeros((self.count if keep_batches else 0, 4, len(drivers)))
        self.luck = {name: self._stacked(name) for name in LUCK}
        self.around = Surroundings.of(circuit.own, *(self._stacked(name) for name in WAY))
        self.dosing = np.stack([_padded(driver.dosing, self.count) for driver in drivers], axis=-1)
        self.sampled, self.known = self._diary()
        self.reference = np.array(
            [[recipe.water, recipe.return_moisture, recipe.return_temperature] for recipe in recipes]
        ).T
        self.settings = np.zeros((3, len(drivers)))
        self._set(range(len(drivers)))

    def _stacked(self, name: str) -> Floats:
        return np.stack([_padded(getattr(driver, name), self.count) for driver in self.drivers], axis=-1)

    def _diary(self) -> tuple[dict[int, list[tuple[int, int]]], dict[int, list[tuple[int, int, str]]]]:
        """Which plant samples at which batch, and which result is known at which batch."""
        sampled: dict[int, list[tuple[int, int]]] = defaultdict(list)
        known: dict[int, list[tuple[int, int, str]]] = defaultdict(list)
        due = [sets_due(local) for local in self.calendar.locals]
        for plant, visits in enumerate(self.visits):
            for hour, batch in enumerate(visits.batch.tolist()):
                if batch < 0:
                    continue
                sampled[batch].append((plant, hour))
                known[batch + 2].append((plant, hour, "compactability"))
                if due[hour] & {"shift", "daily", "weekly"}:
                    known[batch + 19].append((plant, hour, "active_clay"))
                if "daily" in due[hour]:
                    known[batch + 41].append((plant, hour, "volatiles"))
        return sampled, known

    def make(self, number: int) -> None:
        """One batch at every plant."""
        now = {name: column[number] for name, column in self.luck.items()}
        circuit, around = self.circuit, self.around.at(number)
        if now["gap_hours"].any():
            circuit.rest(now["gap_hours"], around.ambient)
        batch = circuit.charge()
        dose = self._dose(number, batch, now)
        prepared = circuit.mull(batch, dose, around.ambient)
        circuit.store(prepared, around)
        for plant, hour in self.sampled.get(number, ()):
            self.prepared[plant, :, hour] = prepared[:, plant]
            self.returned[plant, :, hour] = batch[:, plant]
        for event in self.known.get(number, ()):
            self._tell(*event)

    def _dose(self, number: int, batch: Floats, now: dict[str, Floats]) -> Dose:
        """Settings made kg: water follows the moisture and temperature probes of the return sand."""
        seen = of_return(batch)
        water, moisture, temperature = self.reference
        wanted = (
            water
            + self.settings[0]
            - 12.5 * (seen["return_moisture"] + now["probe"] - moisture)
            + 0.13 * (seen["return_temperature"] - temperature)
        )
        dosing = self.dosing[number]
        shown = np.maximum(0.0, np.round(2.0 * wanted) / 2.0 + now["water_scatter"])
        bentonite = np.maximum(0.0, self.settings[1] + dosing[0])
        carbon = np.maximum(0.0, self.settings[2] + dosing[1])
        if self.recorded.size:
            sand = self.circuit.own["new_sand_kg"] + dosing[2]
            self.recorded[number] = shown, bentonite, carbon, sand
        return Dose(
            np.maximum(0.0, shown + now["water_bias"]),
            bentonite * now["bentonite_factor"],
            carbon * now["carbon_factor"],
            now["clay_assay"],
        )

    def _tell(self, plant: int, hour: int, name: str) -> None:
        """One result reaches the people of one plant."""
        state, recipe = self.prepared[plant, :, hour], self.recipes[plant]
        error = float(self.visits[plant].error(name, hour))
        if name == "compactability":
            level = self.drivers[plant].parameters.temper_level
            recipe.compactability_known(float(compactability(state, level)) + error)
        elif name == "active_clay":
            recipe.clay_known(float(active_clay(state)) + error)
        else:
            recipe.volatiles_known(float(volatiles(state)) + error)
        self._set([plant])

    def _set(self, plants: Sequence[int] | range) -> None:
        for plant in plants:
            recipe = self.recipes[plant]
            self.settings[:, plant] = recipe.trim, recipe.bentonite_set, recipe.carbon_set

    def courses(self) -> list[Course]:
        """What each plant leaves behind."""
        return [
            Course(
                self.calendar,
                driver,
                self.visits[plant],
                self.recipes[plant],
                self.prepared[plant],
                self.returned[plant],
                self.recorded[: driver.slots.size, :, plant],
            )
            for plant, driver in enumerate(self.drivers)
        ]


def _padded(values: Floats, count: int) -> Floats:
    """`values` with the last row repeated up to `count`: plants with more stops idle on at the end unseen."""
    return np.concatenate([values, np.repeat(values[-1:], count - len(values), axis=0)])
