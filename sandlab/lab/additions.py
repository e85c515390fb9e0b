"""How kilograms per batch are shown: at the feeder's resolution, with the change and its sign."""

from __future__ import annotations

import math

from sandlab.lab.facts import AdditionFacts
from sandlab.lab.opening import Lab
from sandlab.quantities import format_number


def kg_decimals(resolution_kg: float) -> int:
    """Decimals that show a feeder's resolution: 5 kg gives 0, 0.5 kg gives 1, 0.25 kg gives 2."""
    places = 0
    while places < 3 and not math.isclose(round(resolution_kg, places), resolution_kg, abs_tol=1e-9):
        places += 1
    return places


def addition_facts(lab: Lab, feeder: str, kg: float, change_kg: float) -> AdditionFacts:
    """One feeder's kg and change as shown, without parts."""
    entry = lab.sand.feeders[feeder]
    decimals = kg_decimals(entry.resolution_kg)
    return AdditionFacts(
        feeder=feeder,
        material=entry.material,
        label=lab.specs.materials[entry.material].label,
        kg=kg,
        text=format_number(kg, decimals, mark=lab.mark),
        decimals=decimals,
        change_kg=change_kg,
        change_text=signed(change_kg, decimals, lab.mark),
        parts_kg={},
        binds="",
    )


def signed(value: float, decimals: int, mark: str) -> str:
    """A change with its sign; nothing changed is 0 without one."""
    text = format_number(value, decimals, mark=mark)
    return f"+{text}" if value > 0 and text.strip("0.,") else text


def parts_words(one: AdditionFacts, mark: str) -> str:
    """The kilograms of an addition as a sum of its parts."""
    parts = []
    for name, kg in one.parts_kg.items():
        text = format_number(abs(kg), max(1, one.decimals), mark=mark)
        if text.strip("0.,"):
            parts.append(f"{'-' if kg < 0 else '+'}{text} {name.replace('_', ' ')}")
    return " ".join(parts).removeprefix("+")
