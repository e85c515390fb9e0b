"""Runs one case under several controllers side by side and keeps what happened."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from heapq import heappop, heappush
from time import process_time

import numpy as np

from sandlab.balance.stream import (
    HOUR_US,
    MINUTE_US,
    BatchMade,
    Controller,
    Estimated,
    Event,
    Outlook,
    PlantModel,
    ResultKnown,
)
from sandlab.plant.closed import FEEDERS, Case, Line
from sandlab.plant.closed.sand import Floats
from tests.benchmarks.closed_loop import knowledge

Factory = Callable[[PlantModel, Line, int], Controller]
# Whom an event is for: one controller, or all.
Waiting = list[tuple[int, int, int | None, Event | tuple[int, int]]]
BANDED = ("active_clay", "volatiles")
TOLD = (*BANDED, "fixed_carbon", "inert_fines")


@dataclass(slots=True)
class Course:
    """One case under one controller: truth and kg by batch; by hour what the controller thought of its sand.

    estimates: batch number -> (prepared, returned) as estimated
    seconds: processor time spent in the controller
    """

    case: Case
    name: str
    true: dict[str, Floats]
    kg: Floats
    metal_t: Floats
    estimates: dict[int, tuple[dict[str, Estimated], dict[str, Estimated]]] = field(default_factory=dict)
    seconds: float = 0.0


def run(
    case: Case, factories: dict[str, Factory], *, probes: bool, model: PlantModel | None = None
) -> dict[str, Course]:
    """The courses of a case, one for each controller."""
    bench = _Bench(case, factories, probes, model or knowledge.plant_model(case))
    for number in range(case.luck.batches):
        bench.step(number)
    return {course.name: course for course in bench.courses}


class _Bench:
    """Hands events to the controllers when they become known, and their answers to the line."""

    def __init__(self, case: Case, factories: dict[str, Factory], probes: bool, model: PlantModel) -> None:
        self.case, self.probes = case, probes
        self.line = Line(case, len(factories))
        self.controllers = [make(model, self.line, column) for column, make in enumerate(factories.values())]
        self.courses = [
            Course(
                case,
                name,
                {key: values[column] for key, values in self.line.true.items()},
                self.line.weighed[:, column],
                self.line.metal_t[column],
            )
            for column, name in enumerate(factories)
        ]
        self.kg = [{one.id: one.present_kg for one in model.feeders} for _ in factories]
        self.jobs = knowledge.schedule(case)
        self.waiting: Waiting = []
        self.order = 0
        self.hour = -1
        for receipt in knowledge.receipts(case):
            self._later(receipt.at_us, None, receipt)
        for first, after, known in knowledge.shift_parts(case):
            self._later(known, None, (first, after))

    def _later(self, at_us: int, column: int | None, event: Event | tuple[int, int]) -> None:
        self.order += 1
        heappush(self.waiting, (at_us, self.order, column, event))

    def step(self, number: int) -> None:
        """One batch under every controller."""
        at = int(self.case.luck.at_us[number])
        self._tell(at)
        self.line.charge()
        moisture, temperature = self.line.probes()
        hour = at // HOUR_US
        due, self.hour = hour != self.hour, hour
        outlook = knowledge.outlook(self.jobs, at) if due else Outlook()
        settings = np.zeros((len(FEEDERS), len(self.controllers)))
        for column, controller in enumerate(self.controllers):
            began, kg = process_time(), self.kg[column]
            look = getattr(controller, "look", None)
            if look is not None:
                look()
            if due or getattr(controller, "every_batch", False):
                answer = controller.recommend(at, outlook)
                kg.update(answer.kg)
                if answer.prepared:
                    thought = (dict(answer.prepared), dict(answer.returned))
                    self.courses[column].estimates[number] = thought
            probe = self._probe(moisture, temperature, column)
            dry = {name: amount for name, amount in kg.items() if name != "water"}
            kg["water"] = controller.water(at, *probe, dry)
            self.courses[column].seconds += process_time() - began
            settings[:, column] = [kg[name] for name in FEEDERS]
        if not np.isfinite(settings).all():
            raise ValueError(f"batch {number}: a controller answered {settings.tolist()}")
        weighed = self.line.make(settings)
        self._note_batch(at, weighed, moisture, temperature)

    def _probe(self, moisture: Floats, temperature: Floats, column: int) -> tuple[float | None, float | None]:
        """What the belt probes show one controller."""
        return (float(moisture[column]), float(temperature[column])) if self.probes else (None, None)

    def _tell(self, at: int) -> None:
        """Everything that has become known by now, in that order."""
        while self.waiting and self.waiting[0][0] <= at:
            _, _, only, event = heappop(self.waiting)
            for column in range(len(self.controllers)) if only is None else (only,):
                told = knowledge.production(self.line, column, *event) if isinstance(event, tuple) else event
                began = process_time()
                self.controllers[column].note(told)
                self.courses[column].seconds += process_time() - began

    def _note_batch(self, at: int, weighed: Floats, moisture: Floats, temperature: Floats) -> None:
        charged = self.case.plant.charge_kg * float(self.case.luck.charge[self.line.number])
        for column in range(len(self.controllers)):
            kg = dict(zip(FEEDERS, weighed[:, column].tolist(), strict=True))
            probe = self._probe(moisture, temperature, column)
            self._later(at + MINUTE_US, column, BatchMade(at, kg, charged, *probe))
        for test, values in self.line.results():
            for column, value in enumerate(values.tolist()):
                result = ResultKnown(test.property, value, test.taken_us, test.known_us)
                self._later(test.known_us, column, result)
