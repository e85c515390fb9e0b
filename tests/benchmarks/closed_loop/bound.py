"""What knowledge could do at best: the oracle, and the soft bound that knows the mean of the last hours.

Both know every parameter of the plant, the lots, and the slow part of every feeder's error; neither knows the
scatter of the next batch. They look into the simulated plant, which no controller may.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping

import numpy as np

from sandlab.balance.stream import Event, Outlook, PlantModel, Recommendation
from sandlab.plant.closed import Line
from sandlab.plant.closed.sand import Floats, absorbing, additions, mull
from sandlab.plant.parameters import CLAY, DRY, NEW_CLAY, VOLATILES, WATER
from tests.benchmarks.closed_loop.knowledge import settings

Kg = Mapping[str, float]
BOUND_BATCHES = 80  # four hours


class Knowing:
    """Doses what the mean charged sand of the last `batches` batches lacks: 1 is the oracle."""

    def __init__(self, model: PlantModel, line: Line, column: int, batches: int) -> None:
        self.model, self.line, self.column = model, line, column
        self.every_batch = batches == 1
        self.last: deque[Floats] = deque(maxlen=batches)
        self.probe: deque[float] = deque(maxlen=batches)
        self.kg = {one.id: one.present_kg for one in model.feeders}

    def note(self, event: Event) -> None:
        """Knows better."""

    def look(self) -> None:
        """The sand charged now, before anything is decided."""
        self.last.append(self.line.charged[:, self.column].copy())

    def _now(self, kg: Kg) -> tuple[Floats, Floats, dict[str, float]]:
        """Mean sand, what these kg bring to it, and true over weighed kg of each feeder."""
        case, slow = self.line.case, self.line.case.luck.slow[:, self.line.number].tolist()
        steady = dict(zip(("bentonite", "carbon", "new_sand", "water"), slow, strict=True))
        fed = [np.array([true * kg[name]]) for name, true in steady.items()]
        mean = np.asarray(sum(self.last) / len(self.last))[:, None]
        return mean, additions(case.plant, *fed, self.line.lots()), steady

    def recommend(self, at_us: int, outlook: Outlook) -> Recommendation:
        """Clay and carbon by what is missing, solved together with the new total."""
        plant = self.line.case.plant
        clay = plant.clay_target / plant.clay_calibration
        volatiles = plant.volatiles_target / plant.volatiles_calibration
        wanted = {"bentonite": (clay, [CLAY, NEW_CLAY]), "carbon": (volatiles, [VOLATILES])}
        for _ in range(2):
            mean, added, _ = self._now(self.kg)
            made = mean + added
            for name, (target, rows) in wanted.items():
                missing = target / 100.0 * made[DRY].sum() - made[rows].sum()
                per_kg = added[rows].sum() / self.kg[name] if self.kg[name] > 0.0 else 0.3
                self.kg[name] = max(0.1, self.kg[name] + float(missing / per_kg))
        return settings(at_us, self.model, self.kg)

    def water(
        self, at_us: int, probe_moisture: float | None, probe_temperature: float | None, added_kg: Kg
    ) -> float:
        """Water to the demand of this sand; the soft bound adds what the probe has moved since the mean."""
        case, luck, number = self.line.case, self.line.case.luck, self.line.number
        mean, added, steady = self._now({**self.kg, **added_kg, "water": self.kg["water"]})
        fed = np.array([steady["water"] * self.kg["water"]])
        prepared, _ = mull(case.plant, mean, added, fed, float(luck.ambient[number]))
        demand = case.settled.demand + float(absorbing(case.plant, prepared)[0])
        demand += float(luck.demand[number]) if self.every_batch else 0.0
        dry = float(prepared[DRY].sum())
        lacks = dry * demand / (100.0 - demand) - float(prepared[WATER, 0])
        if probe_moisture is not None and not self.every_batch:
            self.probe.append(probe_moisture)
            lacks -= dry * (probe_moisture - sum(self.probe) / len(self.probe)) / 100.0
        self.kg["water"] = max(0.1, self.kg["water"] + lacks / steady["water"])
        return self.kg["water"]
