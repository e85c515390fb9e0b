"""How a result is written down: as the instrument shows it, or with the weights and volumes behind it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from sandlab.records import Reading, Result

TUBE_MM = 120.0
ML_PER_PERCENT = 5.35
# American sieve set: name, multiplier, usual share of a washed sample, %, its change per point of fineness.
SIEVES = (
    ("sieve_6", 3.0, 0.0, 0.0),
    ("sieve_12", 5.0, 0.1, 0.0),
    ("sieve_20", 10.0, 0.5, -0.01),
    ("sieve_30", 20.0, 2.2, -0.12),
    ("sieve_40", 30.0, 9.0, -0.50),
    ("sieve_50", 40.0, 26.0, -1.40),
    ("sieve_70", 50.0, 31.0, -0.30),
    ("sieve_100", 70.0, 20.2, 1.30),
    ("sieve_140", 100.0, 8.0, 0.83),
    ("sieve_200", 140.0, 2.0, 0.15),
    ("sieve_270", 200.0, 0.6, 0.03),
    ("pan", 300.0, 0.4, 0.02),
)
USUAL_FINENESS = sum(multiplier * share for _, multiplier, share, _ in SIEVES) / 100.0
FINENESS_PER_POINT = sum(multiplier * change for _, multiplier, _, change in SIEVES) / 100.0
# Step of instruments whose reading is typed as it stands.
STEPS = {
    "green_compression_strength": 1.0,
    "permeability": 1.0,
    "specimen_weight": 0.1,
    "sand_temperature": 1.0,
    "return_temperature": 1.0,
    "green_shear_strength": 1.0,
    "dry_compression_strength": 5.0,
    "wet_tensile_strength": 0.001,
    "friability": 0.1,
    "shatter_index": 1.0,
    "mould_hardness": 1.0,
}


@dataclass(frozen=True, slots=True)
class Written:
    """A reported value, its method and its readings (name, value, repeat)."""

    value: float
    method: str = ""
    readings: tuple[tuple[str, float, int], ...] = ()

    def result(self, name: str, known_at: datetime) -> Result:
        """The record of it."""
        readings = tuple(
            Reading(name=key, value=value, repeat=repeat) for key, value, repeat in self.readings
        )
        return Result(
            property=name, value=self.value, method=self.method, readings=readings, known_at=known_at
        )


def write_down(name: str, value: float, random: np.random.Generator) -> Written:
    """What the technician enters for a property whose test came out at `value`."""
    if name in STEPS:
        step = STEPS[name]
        return Written(round(round(value / step) * step, 6))
    return _WEIGHED[name](value, random)


def _moisture(method: str, repeats: int) -> Callable[[float, np.random.Generator], Written]:
    def weigh(value: float, random: np.random.Generator) -> Written:
        readings, results = [], []
        for repeat in range(1, repeats + 1):
            moist = round(50.0 + 0.02 * float(random.standard_normal()), 2)
            own = value + 0.01 * float(random.standard_normal())
            dry = round(moist * (1.0 - own / 100.0), 2)
            readings += [("moist_g", moist, repeat), ("dry_g", dry, repeat)]
            results.append((moist - dry) / moist * 100.0)
        return Written(sum(results) / repeats, method, tuple(readings))

    return weigh


def _compactability(value: float, random: np.random.Generator) -> Written:
    height = round(TUBE_MM * (1.0 - value / 100.0), 1)
    return Written(
        (TUBE_MM - height) / TUBE_MM * 100.0, "compactability_tube", (("rammed_height_mm", height, 1),)
    )


def _methylene_blue(value: float, random: np.random.Generator) -> Written:
    titre = round(value * ML_PER_PERCENT * 2.0) / 2.0
    return Written(titre / ML_PER_PERCENT, "methylene_blue", (("titre_ml", titre, 1), ("sample_g", 5.0, 1)))


def _crucible(method: str, last: str) -> Callable[[float, np.random.Generator], Written]:
    def weigh(value: float, random: np.random.Generator) -> Written:
        empty = round(24.0 + 2.0 * float(random.random()), 4)
        full = round(empty + 5.0 + 0.2 * float(random.random()), 4)
        after = round(full - value / 100.0 * (full - empty), 4)
        readings = (("crucible_g", empty, 1), ("sample_crucible_g", full, 1), (last, after, 1))
        return Written((full - after) / (full - empty) * 100.0, method, readings)

    return weigh


def _afs_clay(value: float, random: np.random.Generator) -> Written:
    dry = round(50.0 + 0.02 * float(random.standard_normal()), 2)
    residue = round(dry * (1.0 - value / 100.0), 2)
    return Written(
        (dry - residue) / dry * 100.0, "afs_clay_wash", (("dry_g", dry, 1), ("residue_g", residue, 1))
    )


def sieved(fineness: float, fines: float, random: np.random.Generator) -> tuple[Written, Written]:
    """Grain fineness number and fines from one sieving of 50 g: the weights on each sieve and in the pan."""
    points = (fineness - USUAL_FINENESS) / FINENESS_PER_POINT
    shares = {name: max(0.0, usual + change * points) for name, _, usual, change in SIEVES}
    fine = ("sieve_200", "sieve_270", "pan")
    stretch = max(0.0, fines) / sum(shares[name] for name in fine)
    shares |= {name: shares[name] * stretch for name in fine}
    total = sum(shares.values())
    weights = {
        name: round(max(0.0, 49.9 * share / total * (1.0 + 0.01 * float(random.standard_normal()))), 2)
        for name, share in shares.items()
    }
    retained = sum(weights.values())
    number = sum(multiplier * weights[name] for name, multiplier, _, _ in SIEVES) / retained
    readings = (("sample_g", 50.0, 1), *((name, weight, 1) for name, weight in weights.items()))
    below = 100.0 * sum(weights[name] for name in fine) / retained
    return Written(number, "sieve_us", readings), Written(below, "fines_us", readings)


_WEIGHED: dict[str, Callable[[float, np.random.Generator], Written]] = {
    "compactability": _compactability,
    "moisture": _moisture("moisture_oven", 2),
    "return_moisture": _moisture("return_moisture_oven", 1),
    "active_clay": _methylene_blue,
    "volatiles": _crucible("volatiles_482", "heated_crucible_g"),
    "loss_on_ignition": _crucible("loss_on_ignition_982", "ignited_crucible_g"),
    "afs_clay": _afs_clay,
}
