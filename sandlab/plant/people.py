"""The recipe and the modest corrections by which the plant's own people hold it."""

from __future__ import annotations

from dataclasses import dataclass

from sandlab.plant.parameters import CLAY_TARGET, COMPACTABILITY_TARGET, VOLATILES_TARGET


@dataclass(slots=True)
class Recipe:
    """Settings of one plant, kg per batch: what holds the usual sand, and what is corrected on top of it."""

    water: float
    bentonite: float
    carbon: float
    return_moisture: float
    return_temperature: float
    trim: float = 0.0
    clay_seen: float = CLAY_TARGET
    volatiles_seen: float = VOLATILES_TARGET

    def compactability_known(self, value: float) -> None:
        """A fifth of the error is taken out by water, never more than 1.5 kg from the recipe."""
        step = 0.2 * (COMPACTABILITY_TARGET - value) / 1.65
        self.trim = min(1.5, max(-1.5, self.trim + step))

    def clay_known(self, value: float) -> None:
        """Methylene blue counts as a running mean."""
        self.clay_seen += 0.3 * (value - self.clay_seen)

    def volatiles_known(self, value: float) -> None:
        """Volatiles count as a running mean."""
        self.volatiles_seen += 0.3 * (value - self.volatiles_seen)

    @property
    def bentonite_set(self) -> float:
        """Bentonite in steps of 0.5 kg: 0.8 kg for each 1 % of clay that is missing, at most 1.5 kg."""
        return _half(self.bentonite + min(1.5, max(-1.5, 0.8 * (CLAY_TARGET - self.clay_seen))))

    @property
    def carbon_set(self) -> float:
        """Coal-dust setting in steps of 0.5 kg: 1.5 kg for each 1 % of volatiles that is missing."""
        return _half(self.carbon + min(1.0, max(-1.0, 1.5 * (VOLATILES_TARGET - self.volatiles_seen))))


def _half(kg: float) -> float:
    return round(2.0 * kg) / 2.0
