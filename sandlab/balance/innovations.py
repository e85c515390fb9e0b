"""What the balance did not foresee: each result less its expectation, as the filters met it."""

from __future__ import annotations

from dataclasses import dataclass

KEPT = 3000  # batches with results whose innovations are kept: as far back as a filter can be told anew

FORESEEN = (
    "compactability",
    "moisture",
    "active_clay",
    "volatiles",
    "fixed_carbon",
    "inert_fines",
    "loss_on_ignition",
    "afs_clay",
    "green_compression_strength",
    "return_moisture",
)
"""Properties of whose results the balance foresees something."""


@dataclass(frozen=True, slots=True)
class Innovation:
    """A result against everything taken before it: when its sand was taken, the result, how far off it was.

    distance: measured less foreseen, in the standard deviations that the balance gave the difference [-]
    """

    taken_us: int
    property: str
    value: float
    distance: float


class Innovations:
    """The innovations of one filter by the batch they belong to, of its last run over each batch."""

    def __init__(self) -> None:
        self._of: dict[int, list[Innovation]] = {}
        self._index = 0

    def begin(self, index: int) -> None:
        """The results of a batch are about to be met, for the first time or again."""
        self._index = index
        self._of.pop(index, None)

    def add(self, taken_us: int, property: str, value: float, distance: float) -> None:
        """Keep the innovation of one result."""
        self._of.setdefault(self._index, []).append(Innovation(taken_us, property, value, distance))
        if len(self._of) > KEPT:
            del self._of[next(iter(self._of))]

    def all(self) -> list[Innovation]:
        """All that are kept."""
        return [one for found in self._of.values() for one in found]
