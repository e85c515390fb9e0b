"""Everyday controllers: the fixed recipe, and the recipe plus what one batch lacks by the last test."""

from __future__ import annotations

from collections.abc import Mapping

from sandlab.balance.stream import Event, Outlook, PlantModel, Recommendation, ResultKnown
from tests.benchmarks.closed_loop.knowledge import settings

POINTS_PER_MOISTURE = 27.0


class LastTest:
    """Recipe plus `share` of what a batch lacks by the last test, not accumulated; 0 is the fixed recipe."""

    def __init__(self, model: PlantModel, share: float) -> None:
        self.model, self.share = model, share
        self.recipe = {one.id: one.present_kg for one in model.feeders}
        self.target = {one.property: one.target for one in model.targets}
        self.lacks = dict.fromkeys(self.target, 0.0)
        self.dry_kg = model.muller.batch_kg * (1.0 - model.muller.return_moisture / 100.0)
        assays = {one.id: one.material for one in model.feeders}
        clay, coal = assays["bentonite"], assays["carbon"]
        self.clay = clay.dry_share * clay.assay["active_clay"]
        self.coal = coal.dry_share * coal.assay["volatiles"]

    def note(self, event: Event) -> None:
        """A newer test replaces an older one."""
        if isinstance(event, ResultKnown) and event.property in self.lacks:
            self.lacks[event.property] = self.target[event.property] - event.value

    def water(
        self,
        at_us: int,
        probe_moisture: float | None,
        probe_temperature: float | None,
        added_kg: Mapping[str, float],
    ) -> float:
        """Water by the last compactability."""
        moisture = self.lacks["compactability"] / POINTS_PER_MOISTURE
        return max(0.0, self.recipe["water"] + self.share * self.dry_kg * moisture / 100.0)

    def recommend(self, at_us: int, outlook: Outlook) -> Recommendation:
        """Clay and carbon by their last tests."""
        clay = self.recipe["bentonite"] + self.share * self.dry_kg * self.lacks["active_clay"] / self.clay
        coal = self.recipe["carbon"] + self.share * self.dry_kg * self.lacks["volatiles"] / self.coal
        return settings(at_us, self.model, {"bentonite": max(0.0, clay), "carbon": max(0.0, coal)})
