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
BASELINE_FROM_H, BASELINE_TO_H = 1500.0, 865.0

DEMO_FAULTS = (
    Fault(
        id="bentonite_feeder_low",
        kind="bentonite_feeder",
        property="active_clay",
        point="muller_discharge",
        side="down",
        start_h=860.0,
        duration_h=170.0,
        amount=-0.165,
        ramp_h=12.0,
        size_sd=3.0,
        greatest_delay_h=165.0,
        what="The bentonite screw wears and feeds less than its display shows.",
    ),
    Fault(
        id="scale_not_tared",
        kind="lab_offset",
        property="specimen_weight",
        point="muller_discharge",
        side="up",
        start_h=580.0,
        duration_h=8.0,
        amount=2.15,
        ramp_h=0.0,
        size_sd=3.0,
        greatest_delay_h=8.0,
        what="One blunder in the laboratory: the balance is not tared for a shift.",
    ),
    Fault(
        id="hot_spell",
        kind="hot_spell",
        property="sand_temperature",
        point="muller_discharge",
        side="up",
        start_h=560.0,
        duration_h=50.0,
        amount=4.7,
        ramp_h=6.0,
        size_sd=3.0,
        greatest_delay_h=24.0,
        what="A hot spell: hall and return sand stay hot, and moisture is lost on the way.",
    ),
    Fault(
        id="coal_feeder_low",
        kind="carbon_feeder",
        property="volatiles",
        point="muller_discharge",
        side="down",
        start_h=560.0,
        duration_h=300.0,
        amount=-0.17,
        ramp_h=0.0,
        size_sd=3.0,
        greatest_delay_h=300.0,
        what="The coal-dust feeder is set back on the wrong notch after cleaning.",
    ),
    Fault(
        id="weaker_bentonite",
        kind="bentonite_assay",
        property="active_clay",
        point="muller_discharge",
        side="down",
        start_h=500.0,
        duration_h=170.0,
        amount=-0.163,
        ramp_h=8.0,
        size_sd=3.0,
        greatest_delay_h=165.0,
        what="A change of supplier: the new bentonite takes up less methylene blue.",
    ),
    Fault(
        id="water_valve_leak",
        kind="water_meter",
        property="moisture",
        point="muller_discharge",
        side="up",
        start_h=225.0,
        duration_h=26.0,
        amount=4.7,
        ramp_h=3.0,
        size_sd=3.0,
        greatest_delay_h=24.0,
        what="The water valve leaks past the meter into the muller.",
    ),
    Fault(
        id="new_core_job",
        kind="core_job",
        property="green_compression_strength",
        point="muller_discharge",
        side="down",
        start_h=180.0,
        duration_h=34.0,
        amount=0.2,
        ramp_h=0.0,
        size_sd=3.0,
        greatest_delay_h=54.0,
        what="A new job with heavy cores dilutes the sand before anyone raises the bentonite.",
    ),
    Fault(
        id="water_meter_drift",
        kind="water_meter",
        property="compactability",
        point="muller_discharge",
        side="down",
        start_h=28.0,
        duration_h=1000.0,
        amount=-4.9,
        ramp_h=8.0,
        size_sd=3.0,
        greatest_delay_h=28.0,
        what="Lime in the water meter: it counts more than it lets through.",
    ),
)
