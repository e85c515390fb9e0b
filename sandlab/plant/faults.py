"""Planted faults: what goes wrong, when, how far, and by when a chart must have said so.

Times count running hours back from the end of the history (the weekend stop does not count), so that a demo
opened on any day has the same story and a fresh drift in its last hours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "bentonite_feeder",
    "bentonite_assay",
    "hot_spell",
    "core_job",
    "water_meter",
    "carbon_feeder",
    "lab_offset",
]
Side = Literal["up", "down"]


@dataclass(frozen=True, slots=True)
class Fault:
    """One planted fault.

    `amount` is physical: share of the feeder (-0.2 feeds a fifth too little), share of the assay, K of a hot
    spell, kg of water per batch, t core sand per t metal, or the property's unit for a laboratory offset.
    `ramp_h` is how long it takes to grow to its amount. `size_sd` is the greatest mean departure of
    `property` in standard deviations of its quiet baseline; a chart must flag it within `greatest_delay_h`.
    """

    id: str
    kind: Kind
    property: str
    point: str
    side: Side
    start_h: float
    duration_h: float
    amount: float
    ramp_h: float
    size_sd: float
    greatest_delay_h: float
    what: str

    def share_at(self, hours_to_end: float) -> float:
        """How much of the amount acts so many running hours before the end."""
        age = self.start_h - hours_to_end
        if age < 0.0 or age >= self.duration_h:
            return 0.0
        return min(1.0, age / self.ramp_h) if self.ramp_h > 0.0 else 1.0


# The quiet baseline, in running hours before the end.
BASELINE_FROM_H, BASELINE_TO_H = 1500.0, 820.0

DEMO_FAULTS = (
    Fault(
        "bentonite_feeder_low",
        "bentonite_feeder",
        "active_clay",
        "muller_discharge",
        "down",
        start_h=790.0,
        duration_h=120.0,
        amount=-0.22,
        ramp_h=12.0,
        size_sd=3.0,
        greatest_delay_h=110.0,
        what="The bentonite screw wears and feeds less than its display shows.",
    ),
    Fault(
        "scale_not_tared",
        "lab_offset",
        "specimen_weight",
        "muller_discharge",
        "up",
        start_h=700.0,
        duration_h=8.0,
        amount=2.7,
        ramp_h=0.0,
        size_sd=3.0,
        greatest_delay_h=8.0,
        what="One blunder in the laboratory: the balance is not tared for a shift.",
    ),
    Fault(
        "hot_spell",
        "hot_spell",
        "sand_temperature",
        "muller_discharge",
        "up",
        start_h=640.0,
        duration_h=60.0,
        amount=10.0,
        ramp_h=18.0,
        size_sd=3.0,
        greatest_delay_h=40.0,
        what="A hot spell: the hall and the return sand stay hot, and moisture is lost on the way.",
    ),
    Fault(
        "coal_feeder_low",
        "carbon_feeder",
        "volatiles",
        "muller_discharge",
        "down",
        start_h=560.0,
        duration_h=230.0,
        amount=-0.25,
        ramp_h=0.0,
        size_sd=3.0,
        greatest_delay_h=230.0,
        what="The coal-dust feeder is set back on the wrong scale after cleaning.",
    ),
    Fault(
        "weaker_bentonite",
        "bentonite_assay",
        "active_clay",
        "muller_discharge",
        "down",
        start_h=420.0,
        duration_h=120.0,
        amount=-0.22,
        ramp_h=8.0,
        size_sd=3.0,
        greatest_delay_h=110.0,
        what="A change of supplier: the new bentonite takes up less methylene blue.",
    ),
    Fault(
        "water_valve_leak",
        "water_meter",
        "moisture",
        "muller_discharge",
        "up",
        start_h=230.0,
        duration_h=16.0,
        amount=5.0,
        ramp_h=2.0,
        size_sd=3.0,
        greatest_delay_h=12.0,
        what="The water valve leaks past the meter into the muller.",
    ),
    Fault(
        "new_core_job",
        "core_job",
        "green_compression_strength",
        "muller_discharge",
        "down",
        start_h=150.0,
        duration_h=30.0,
        amount=0.40,
        ramp_h=0.0,
        size_sd=3.0,
        greatest_delay_h=30.0,
        what="A new job with heavy cores dilutes the sand before anyone raises the bentonite.",
    ),
    Fault(
        "water_meter_drift",
        "water_meter",
        "compactability",
        "muller_discharge",
        "down",
        start_h=14.0,
        duration_h=10_000.0,
        amount=-7.0,
        ramp_h=14.0,
        size_sd=3.0,
        greatest_delay_h=14.0,
        what="Lime in the water meter: it counts more than it lets through, a little worse each hour.",
    ),
)
