"""How numbers are said in the balance's sentences: the plant's decimal mark and display units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sandlab.quantities import convert, format_number

# property -> unit of the balance and decimals, where a plant shows it no other way; all others are in %.
PLAIN: Mapping[str, tuple[str, int]] = {
    "compactability": ("%", 0),
    "moisture": ("%", 2),
    "return_moisture": ("%", 2),
    "green_compression_strength": ("kPa", 0),
    "sand_temperature": ("C", 0),
    "return_temperature": ("C", 0),
}


@dataclass(frozen=True, slots=True)
class Voice:
    """The plant's way to say numbers.

    mark: decimal mark
    shown: property -> unit it is kept in, unit it is shown in, decimals there
    """

    mark: str = "."
    shown: Mapping[str, tuple[str, str, int]] = field(default_factory=dict)

    def number(self, value: float, decimals: int | None = None) -> str:
        """A number, as short as it is or with so many decimals."""
        if decimals is not None:
            return format_number(value, decimals, mark=self.mark)
        return f"{value:g}".replace(".", self.mark)

    def kg(self, value: float) -> str:
        """Kilograms of a feeder."""
        return f"{self.number(value)} kg"

    def of(self, name: str, value: float) -> str:
        """A property's value with its unit."""
        kept, unit, decimals = self._units(name)
        text = self.number(convert(value, kept, unit), decimals)
        return text if unit == "1" else f"{text} {unit}"

    def difference(self, name: str, value: float) -> str:
        """A difference of a property with its unit: 10 C is 18 F, not 50."""
        kept, unit, _ = self._units(name)
        text = self.number(round(convert(value, kept, unit) - convert(0.0, kept, unit), 9))
        return text if unit == "1" else f"{text} {unit}"

    def _units(self, name: str) -> tuple[str, str, int]:
        unit, decimals = PLAIN.get(name, ("%", 2))
        return self.shown.get(name, (unit, unit, decimals))


PLAINLY = Voice()
