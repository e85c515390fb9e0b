"""Who takes part: the controllers by name, and the tasks of the bench run on several processors."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

from sandlab.balance.stream import Controller, PlantModel
from sandlab.plant.closed import Line, draw_case
from tests.benchmarks.closed_loop.bound import BOUND_BATCHES, Knowing
from tests.benchmarks.closed_loop.courses import Factory, run
from tests.benchmarks.closed_loop.marker import SHARP_WEIGHT, Marker
from tests.benchmarks.closed_loop.recipes import LastTest
from tests.benchmarks.closed_loop.scores import Score, score
from tests.benchmarks.closed_loop.variants import VARIANTS

# Controllers that never look at a probe: what they do is the same with and without.
BLIND = ("fixed", "full", "half", "oracle")
CANDIDATE = "recommender"


def recommender() -> Callable[[PlantModel], Controller] | None:
    """What makes the candidate of a plant model, None when it is not there yet."""
    try:
        return importlib.import_module("sandlab.balance.recommender").Recommender  # type: ignore[no-any-return]
    except (ImportError, AttributeError):
        return None


def _share(model: PlantModel, line: Line, column: int, *, share: float) -> Controller:
    return LastTest(model, share)


def _candidate(model: PlantModel, line: Line, column: int) -> Controller:
    make = recommender()
    assert make is not None
    return make(model)


def controllers() -> dict[str, Factory]:
    """All that can take part today, by name."""
    field: dict[str, Factory] = {
        "fixed": partial(_share, share=0.0),
        "full": partial(_share, share=1.0),
        "half": partial(_share, share=0.5),
        "marker": lambda model, line, column: Marker(model),
        "sharp": lambda model, line, column: Marker(model, weight=SHARP_WEIGHT),
        "bound": lambda model, line, column: Knowing(model, line, column, BOUND_BATCHES),
        "oracle": lambda model, line, column: Knowing(model, line, column, 1),
    }
    if recommender() is not None:
        field[CANDIDATE] = _candidate
    return field


@dataclass(frozen=True, slots=True)
class Task:
    """One case to be run under some controllers."""

    seed: int
    scenario: str
    days: int
    first_day: float
    probes: bool
    names: tuple[str, ...]
    variant: str = ""


def work(task: Task) -> list[Score]:
    """Runs one task."""
    field = controllers()
    case, model = VARIANTS[task.variant](draw_case(task.seed, task.scenario, task.days))
    courses = run(case, {name: field[name] for name in task.names}, probes=task.probes, model=model)
    return [score(course, task.first_day) for course in courses.values()]


def work_all(tasks: Sequence[Task], processes: int) -> list[list[Score]]:
    """Runs tasks on several processors, results in the order of the tasks."""
    if processes == 1:
        return [work(task) for task in tasks]
    with ProcessPoolExecutor(processes) as pool:
        return list(pool.map(work, tasks, chunksize=1))
