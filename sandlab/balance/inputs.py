"""What a recommendation is made from: feeders, targets, muller, loop, tests with their age."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sandlab.balance.loop import Loop
from sandlab.balance.materials import Material
from sandlab.balance.temper import SLOPE_PRIOR, DemandFit


@dataclass(frozen=True, slots=True)
class Feeder:
    """One feeder of the muller; kg per batch as weighed.

    id: name of the feeder
    material: what it feeds
    minimum_kg, maximum_kg: what it can feed [kg]
    resolution_kg: smallest difference it can be set to [kg]
    greatest_step_kg: greatest change allowed in one step [kg]
    present_kg: what is set now: the last release, or the reference when nothing was released [kg]
    """

    id: str
    material: Material
    minimum_kg: float
    maximum_kg: float
    resolution_kg: float
    greatest_step_kg: float
    present_kg: float


@dataclass(frozen=True, slots=True)
class Target:
    """Where a property belongs: target +/- tolerance, and how old the last test of it may be.

    target, tolerance: in the unit of the property
    greatest_age_min: age of the last test beyond which the addition is held [min];
        None takes the property's entry in GREATEST_AGE_MIN
    """

    property: str
    target: float
    tolerance: float
    greatest_age_min: float | None = None


@dataclass(frozen=True, slots=True)
class Muller:
    """The muller, what it is charged with, and the start values used when no test is recent.

    batch_kg: moist return sand in one batch [kg]
    work_kwh_per_t: work of the muller that ends as heat [kWh/t]
    discharge_eta: share of the excess over ambient that the sand loses in the muller [-]
    ambient_temperature: [C]
    return_moisture: usual moisture of the return sand [% of moist]
    return_temperature: usual temperature of the return sand [C]
    """

    batch_kg: float
    work_kwh_per_t: float = 2.0
    discharge_eta: float = 0.3
    ambient_temperature: float = 20.0
    return_moisture: float = 2.0
    return_temperature: float = 35.0


@dataclass(frozen=True, slots=True)
class Reading:
    """One test result: value, minutes since the sample was taken, whether it is doubtful."""

    value: float
    age_min: float
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class TemperTest:
    """Compactability of one sample with what is known of its batch; None where nothing was recorded.

    age_min: minutes since the sample was taken [min]
    compactability: [%]
    moisture: tested on the same sample [% of moist]
    water_kg: water really added to the sampled batch [kg]
    return_moisture, return_temperature: of the return sand at that time [% of moist], [C]
    """

    age_min: float
    compactability: float
    moisture: float | None = None
    water_kg: float | None = None
    return_moisture: float | None = None
    return_temperature: float | None = None
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class AdviceInputs:
    """Everything a recommendation rests on.

    feeders: all feeders; exactly one of them feeds water
    targets: of compactability and of the components that are steered
    muller, loop: the plant
    tests: property -> results of prepared sand (active_clay, volatiles, fixed_carbon, inert_fines,
        sand_temperature) and of return sand (return_moisture, return_temperature), in any order
    temper_tests: compactability results, in any order
    usual: component -> usual content of prepared sand, used where no test exists [% of dry]
    demand: the plant's own fit of the moisture demand, None takes the published curve
    slope: points of compactability per 1 % moisture [1/%]
    weight: share of a new result in the filtered value [-]
    correction: share of the filtered deviation that the next batches correct [-]; the filter lags behind what
        was added since, and in full it would swing with results two cycles late and pass test noise on
    """

    feeders: tuple[Feeder, ...]
    targets: tuple[Target, ...]
    muller: Muller
    loop: Loop
    tests: Mapping[str, tuple[Reading, ...]] = field(default_factory=dict)
    temper_tests: tuple[TemperTest, ...] = ()
    usual: Mapping[str, float] = field(default_factory=dict)
    demand: DemandFit | None = None
    slope: float = SLOPE_PRIOR
    weight: float = 0.25
    correction: float = 0.5
