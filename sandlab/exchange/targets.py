"""What the columns of each kind of sheet can mean: properties, kg of batches, tonnes poured, lots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, Protocol

from sandlab.specs import Specs

Kind = Literal["samples", "batches", "production", "receipts"]
Form = Literal["number", "text", "time"]
KINDS: tuple[Kind, ...] = ("samples", "batches", "production", "receipts")
Pair = tuple[float, float]


class Ranged(Protocol):
    """A number with the values it can have and those it usually has: a property is one."""

    @property
    def label(self) -> str: ...
    @property
    def unit(self) -> str: ...
    @property
    def impossible(self) -> Pair: ...
    @property
    def doubtful(self) -> Pair: ...


@dataclass(frozen=True, slots=True)
class Target:
    """One thing a column can hold; `words` are those that its head may say."""

    name: str
    label: str
    words: tuple[str, ...]
    unit: str = "1"
    impossible: Pair = (0.0, 1e6)
    doubtful: Pair = (0.0, 1e6)
    form: Form = "number"


def targets(kind: Kind, specs: Specs, system: str) -> dict[str, Target]:
    """Every target of a kind of sheet, by name."""
    if kind == "samples":
        found = [
            Target(
                name,
                entry.label,
                (name.replace("_", " "), entry.label, entry.short, *entry.also),
                entry.unit,
                entry.impossible,
                entry.doubtful,
            )
            for name, entry in specs.properties.items()
        ]
    else:
        found = {"batches": _batches, "production": _production, "receipts": _receipts}[kind](specs, system)
    return {target.name: target for target in found}


def _batches(specs: Specs, system: str) -> list[Target]:
    sand = specs.systems[system]
    full = sand.muller.batch_kg
    found = [
        Target("number", "Batch number", ("number", "batch", "batch no", "batch number", "mix no", "Charge")),
        Target(
            "return_sand_kg",
            "Return sand",
            ("return sand kg", "return sand", "old sand", "system sand", "sand kg", "Altsand"),
            "kg",
            (0.0, 4.0 * full),
            (0.5 * full, 1.2 * full),
        ),
    ]
    for name, feeder in sand.feeders.items():
        material = specs.materials[feeder.material]
        words = (f"{name.replace('_', ' ')} kg", name.replace("_", " "), material.label, *WORDS.get(name, ()))
        low = max(0.0, feeder.minimum_kg)
        usual = (low, feeder.maximum_kg)
        found.append(Target(f"{name}_kg", material.label, words, "kg", (0.0, 4.0 * feeder.maximum_kg), usual))
    return found


WORDS: Mapping[str, tuple[str, ...]] = {
    "water": ("H2O", "litres water", "Wasser", "eau", "agua"),
    "bentonite": ("clay", "bond", "Bentonit"),
    "carbon": ("coal dust", "sea coal", "seacoal", "coal", "Kohlenstaub", "Glanzkohlenstoffbildner"),
    "new_sand": ("fresh sand", "silica sand", "Neusand", "sable neuf"),
}


def _production(specs: Specs, system: str) -> list[Target]:
    ratio = specs.systems[system].loop.sand_to_metal
    return [
        Target("until", "Until", ("until", "to", "end", "stop", "bis"), form="time"),
        Target("job", "Job", ("job", "pattern", "casting", "product", "part", "Modell"), form="text"),
        Target(
            "metal_t",
            "Metal poured",
            ("metal t", "metal", "iron", "poured", "metal poured", "iron poured", "tonnes poured", "Eisen"),
            "t",
            (0.0, 5000.0),
            (0.0, 500.0),
        ),
        Target(
            "sand_to_metal",
            "Sand to metal",
            ("sand to metal", "sand metal ratio", "sand:metal", "sand/metal"),
            "1",
            (0.0, 50.0),
            (0.3 * ratio, 3.0 * ratio),
        ),
        Target(
            "core_sand_t",
            "Core sand",
            ("core sand t", "core sand", "cores", "core weight", "Kernsand"),
            "t",
            (0.0, 1000.0),
            (0.0, 100.0),
        ),
    ]


def _receipts(specs: Specs, system: str) -> list[Target]:
    assays = [
        Target(
            f"{name}_assay",
            f"Assay, {specs.properties[name].label if name in specs.properties else name}",
            (f"{name.replace('_', ' ')} assay", f"assay {name.replace('_', ' ')}"),
            "%",
            (0.0, 100.0),
            (0.0, 100.0),
        )
        for name in ("active_clay", "volatiles", "fixed_carbon", "inert_fines")
    ]
    return [
        Target("material", "Material", ("material", "goods", "article", "Werkstoff"), form="text"),
        Target("lot", "Lot", ("lot", "lot no", "batch lot", "delivery note", "Charge", "Los"), form="text"),
        Target(
            "kg",
            "Delivered",
            ("kg", "kg delivered", "delivered", "net weight", "weight", "quantity", "amount"),
            "kg",
            (0.0, 1e6),
            (100.0, 60_000.0),
        ),
        *assays,
    ]
