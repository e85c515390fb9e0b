"""What a controller of the sand is told, in the order in which it becomes known, and what it answers.

Times are UTC microseconds since 1970 throughout. A stream may carry its events late (a result of three hours
ago, production written down at the end of the shift): what counts is when the sand was made, poured or taken.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from sandlab.balance.answer import CAUTION, Addition, Evidence, Miss
from sandlab.balance.inputs import Feeder, Muller, Target
from sandlab.balance.loop import Loop
from sandlab.balance.temper import SLOPE_PRIOR, DemandFit
from sandlab.balance.voice import PLAINLY, Voice

HOUR_US = 3_600_000_000
MINUTE_US = 60_000_000


@dataclass(frozen=True, slots=True)
class Production:
    """What was poured from `at_us` until `until_us`: the sand made in that time goes through this job.

    metal_t: metal poured [t]
    sand_to_metal: dry sand per metal poured [kg/kg]
    core_sand_t: core sand poured around [t]
    """

    at_us: int
    until_us: int
    job: str
    metal_t: float
    sand_to_metal: float
    core_sand_t: float = 0.0


@dataclass(frozen=True, slots=True)
class Receipt:
    """A lot that is fed from `at_us` on, with what its certificate says.

    material: id of a material of the plant
    assay: component -> content [% of dry]; a component that is not named keeps its last assay
    kg: delivered [kg]
    """

    at_us: int
    material: str
    lot: str = ""
    assay: Mapping[str, float] = field(default_factory=dict)
    moisture: float | None = None
    kg: float = 0.0


@dataclass(frozen=True, slots=True)
class BatchMade:
    """One batch as logged.

    added_kg: feeder id -> kg as weighed, water among them; one that is not named fed its present_kg [kg]
    return_sand_kg: moist return sand charged, None for the usual batch [kg]
    probe_moisture, probe_temperature: of the return sand on the belt, None without probes [% of moist], [C]
    """

    at_us: int
    added_kg: Mapping[str, float]
    return_sand_kg: float | None = None
    probe_moisture: float | None = None
    probe_temperature: float | None = None


@dataclass(frozen=True, slots=True)
class ResultKnown:
    """A test result at the time it becomes known.

    property: key of the catalogue, of prepared sand except return_moisture and return_temperature
    value: in the unit of the catalogue
    taken_us, known_us: when the sand was taken, when the result was known
    doubtful: somebody doubts it: it counts for a quarter and a repeat is asked for
    """

    property: str
    value: float
    taken_us: int
    known_us: int
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class ProbeReading:
    """Belt probes read between batches: used for a batch that brings no reading of its own."""

    at_us: int
    moisture: float | None = None
    temperature: float | None = None


@dataclass(frozen=True, slots=True)
class StockCounted:
    """What was really in the silo of a material: from then on its stock is reckoned [kg]."""

    at_us: int
    material: str
    kg: float


@dataclass(frozen=True, slots=True)
class FeederWeighed:
    """A feeder weighed out: what it showed and what came [kg]."""

    at_us: int
    feeder: str
    shown_kg: float
    weighed_kg: float


@dataclass(frozen=True, slots=True)
class PlannedJob:
    """One job of the schedule, running from `from_us` until `until_us`; gaps between jobs are stops.

    sand_to_metal: dry sand per metal [kg/kg]
    core_sand_t_per_t: core sand per metal [t/t]
    """

    from_us: int
    until_us: int
    job: str
    sand_to_metal: float
    core_sand_t_per_t: float = 0.0


@dataclass(frozen=True, slots=True)
class Outlook:
    """The schedule of the coming hours as known now; empty when nobody planned."""

    jobs: tuple[PlannedJob, ...] = ()


Event = Production | Receipt | BatchMade | ResultKnown | ProbeReading | StockCounted | FeederWeighed


@dataclass(frozen=True, slots=True)
class Noise:
    """Scatter of a result about the truth of its batch (sd, unit of the property), and when it is known."""

    sd: float
    delay_min: float


# Repeatability with sampling, and delay; common practice. Methylene blue holds an operator's share.
LAB_NOISE: Mapping[str, Noise] = {
    "compactability": Noise(1.2, 5.0),
    "moisture": Noise(0.06, 15.0),
    "green_compression_strength": Noise(5.0, 8.0),
    "sand_temperature": Noise(1.0, 2.0),
    "return_moisture": Noise(0.08, 15.0),
    "return_temperature": Noise(1.0, 2.0),
    "active_clay": Noise(0.25, 60.0),
    "volatiles": Noise(0.06, 120.0),
    "loss_on_ignition": Noise(0.10, 180.0),
    "afs_clay": Noise(0.30, 300.0),
    "fixed_carbon": Noise(0.12, 180.0),
    "inert_fines": Noise(0.35, 300.0),
}


@dataclass(frozen=True, slots=True)
class PlantModel:
    """What is known of a plant before its own data speak.

    feeders: all of them, exactly one water; `present_kg` is what is set at the start
    targets: of compactability and of the components that are steered
    muller, loop: start values
    stock_t: dry sand in the system, bunker and moulding line together [t]
    batches_per_h: batches in an hour of running [1/h]
    noise: property -> noise of its results; LAB_NOISE stands in for what is not named
    usual: component -> content of the prepared sand at the start [% of dry]; a target stands in for itself
    demand: the plant's own fit of the moisture demand, None takes the published level
    slope: points of compactability per 1 % moisture, prior [1/%]
    interval_h: how often clay, carbon and new sand may change [h]
    bond: working bond over active clay, start value [-]
    source: what joins fixed carbon and inert fines in one cycle beside the loop, start values [%]
    voice: decimal mark and units of the sentences
    """

    feeders: tuple[Feeder, ...]
    targets: tuple[Target, ...]
    muller: Muller
    loop: Loop
    stock_t: float
    batches_per_h: float
    noise: Mapping[str, Noise] = field(default_factory=dict)
    usual: Mapping[str, float] = field(default_factory=dict)
    demand: DemandFit | None = None
    slope: float = SLOPE_PRIOR
    interval_h: float = 1.0
    bond: float = 0.5
    source: tuple[float, float] = (0.0, 0.0)
    voice: Voice = PLAINLY

    def lab(self, name: str) -> Noise | None:
        """The noise of a property's results, None when the balance does not use them."""
        return self.noise.get(name) or LAB_NOISE.get(name)


@dataclass(frozen=True, slots=True)
class Estimated:
    """One estimated quantity and its standard deviation; half of the 90 % band is 1.645 sd."""

    value: float
    sd: float

    @property
    def band(self) -> tuple[float, float]:
        """The 90 % band."""
        return self.value - 1.645 * self.sd, self.value + 1.645 * self.sd


@dataclass(frozen=True, slots=True)
class Recommendation:
    """Settings of clay, carbon, premix and new sand until the next one; water comes batch by batch.

    additions: one for each feeder, kg per batch as weighed; water last, where it was asked for
    sd_kg: feeder id -> uncertainty of its addition through what is not known of the sand [kg]
    prepared: component -> prepared sand expected over the coming hours [% of dry]
    returned: component -> return sand at the muller now [% of dry]
    moisture, compactability: of the next batch with this water, None where water was not asked for [%]
    misses: targets that cannot be reached, and what binds
    rests_on: the last test of each property, with its age
    flags: what is doubtful: repeat tests asked for, values out of validity
    reason, brief: one sentence, in full and as it is read from across the shop
    """

    at_us: int
    additions: tuple[Addition, ...]
    sd_kg: Mapping[str, float] = field(default_factory=dict)
    prepared: Mapping[str, Estimated] = field(default_factory=dict)
    returned: Mapping[str, Estimated] = field(default_factory=dict)
    moisture: Estimated | None = None
    compactability: Estimated | None = None
    misses: tuple[Miss, ...] = ()
    rests_on: tuple[Evidence, ...] = ()
    flags: tuple[str, ...] = ()
    void_if: tuple[str, ...] = ()
    reason: str = ""
    brief: str = ""
    hold: bool = False
    hold_reason: str = ""
    caution: str = CAUTION

    @property
    def kg(self) -> dict[str, float]:
        """Feeder id -> kg per batch as weighed."""
        return {addition.feeder: addition.kg for addition in self.additions}


class Controller(Protocol):
    """Anything that steers the sand by what it is told; deterministic in the events and calls."""

    def note(self, event: Event) -> None:
        """Take in what has become known."""

    def water(
        self,
        at_us: int,
        probe_moisture: float | None,
        probe_temperature: float | None,
        added_kg: Mapping[str, float],
    ) -> float:
        """Water for the batch about to be made [kg]; `added_kg` are its other additions by feeder id."""

    def recommend(self, at_us: int, outlook: Outlook) -> Recommendation:
        """Settings of the other feeders from now until they may change again."""
