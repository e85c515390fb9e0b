"""What a controller refuses: events that no foundry can have, all of their problems at once."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf, isfinite

from sandlab.balance.check import plant_problems
from sandlab.balance.composition import COMPONENTS, composition_problems
from sandlab.balance.log import Log
from sandlab.balance.materials import ASSAY_CEILING
from sandlab.balance.stream import (
    BatchMade,
    Event,
    FeederWeighed,
    PlantModel,
    ProbeReading,
    Production,
    Receipt,
    ResultKnown,
    StockCounted,
)
from sandlab.errors import InputError, Problem, nearest

_RANGES = {
    "compactability": (0.0, 100.0),
    "moisture": (0.0, 50.0),
    "green_compression_strength": (1.0, 1000.0),
    "sand_temperature": (-40.0, 200.0),
    "return_moisture": (0.0, 50.0),
    "return_temperature": (-40.0, 400.0),
}
_LOSSES = (-5.0, 60.0)  # loss-based results may come out a little below 0


def check_plant(plant: PlantModel) -> None:
    """Refuse a plant that cannot be."""
    problems = plant_problems(plant.feeders, plant.targets, plant.muller, plant.loop)
    problems += composition_problems("usual composition", plant.usual)
    for name, low in (("stock_t", 0.0), ("batches_per_h", 0.0), ("interval_h", 0.0), ("slope", 1.0)):
        if not low < getattr(plant, name) < inf:
            problems.append(
                Problem(f"plant, {name}", f"{getattr(plant, name)} is not possible", f"give above {low:g}")
            )
    for name, noise in plant.noise.items():
        if not 0.0 < noise.sd < inf:
            problems.append(Problem(f"noise of {name}", f"sd {noise.sd}", "give above 0: no test is exact"))
    if problems:
        raise InputError(problems)


def check_event(event: Event, plant: PlantModel, log: Log) -> None:
    """Refuse an event that cannot be."""
    problems = list(_problems(event, plant, log))
    if problems:
        raise InputError(problems)


def _problems(event: Event, plant: PlantModel, log: Log) -> Iterator[Problem]:
    if isinstance(event, ResultKnown):
        low, high = _RANGES.get(event.property, _LOSSES if plant.lab(event.property) else (-inf, inf))
        if not low <= event.value <= high or not isfinite(event.value):
            do = f"give {low:g} to {high:g}, or leave it out"
            yield Problem(f"result of {event.property}", f"{event.value} is not possible", do)
        if event.known_us < event.taken_us:
            yield Problem(f"result of {event.property}", "known before it was taken", "check the clock")
    elif isinstance(event, BatchMade):
        yield from _batch(event, plant)
    elif isinstance(event, Production):
        yield from _production(event)
    elif isinstance(event, Receipt):
        yield from _held("receipt", event.material, plant)
        yield from composition_problems(f"receipt of {event.material}", event.assay, ceiling=ASSAY_CEILING)
        if event.moisture is not None and not 0.0 <= event.moisture < 100.0:
            yield Problem(
                f"receipt of {event.material}", f"moisture {event.moisture} %", "give 0 to below 100"
            )
        if not event.kg >= 0.0:
            yield Problem(f"receipt of {event.material}", f"{event.kg} kg delivered", "give 0 kg or more")
        yield from _empty_lot(event, plant)
    elif isinstance(event, ProbeReading):
        yield from _probe("probe", event.moisture, event.temperature)
    elif isinstance(event, StockCounted):
        yield from _held("count of the silo", event.material, plant)
        if not 0.0 <= event.kg < inf:
            yield Problem(
                f"stock of {event.material}", f"{event.kg} kg is not possible", "a silo holds 0 kg or more"
            )
    else:
        yield from _weighed(event, plant)


def _held(where: str, material: str, plant: PlantModel) -> Iterator[Problem]:
    materials = [feeder.material.id for feeder in plant.feeders]
    if material not in materials:
        yield Problem(where, f"no feeder holds '{material}'", nearest(material, materials))


def _weighed(event: FeederWeighed, plant: PlantModel) -> Iterator[Problem]:
    """A feeder that gives less than half or more than double of what it shows is broken, not off."""
    known = [feeder.id for feeder in plant.feeders]
    if event.feeder not in known:
        yield Problem("feeder weighed out", f"no feeder '{event.feeder}'", nearest(event.feeder, known))
    if not (event.shown_kg > 0.0 and 0.5 <= event.weighed_kg / event.shown_kg <= 2.0):
        what = f"{event.weighed_kg} kg weighed where {event.shown_kg} kg were shown"
        yield Problem(f"feeder {event.feeder} weighed out", what, "weigh it again, or repair the feeder")


def _empty_lot(receipt: Receipt, plant: PlantModel) -> Iterator[Problem]:
    """A lot that carries nothing of what its material is fed for."""
    for feeder in plant.feeders:
        material = feeder.material
        if material.id != receipt.material or material.kind not in ("clay", "carbon", "premix"):
            continue
        assay = dict(material.assay) | dict(receipt.assay)
        if not any(assay.get(name, 0.0) > 0.0 for name in COMPONENTS[:3]):
            yield Problem(f"receipt of {material.id}", "its assay is zero", "enter the certificate's assay")


def _batch(batch: BatchMade, plant: PlantModel) -> Iterator[Problem]:
    known = [feeder.id for feeder in plant.feeders]
    for name, kg in batch.added_kg.items():
        if name not in known:
            yield Problem("batch", f"no feeder '{name}'", nearest(name, known))
        if not 0.0 <= kg <= plant.muller.batch_kg:
            yield Problem(f"batch, {name}", f"{kg} kg is not possible", "give 0 kg up to the batch")
    moist = batch.return_sand_kg
    if moist is not None and not 0.0 < moist <= 10.0 * plant.muller.batch_kg:
        yield Problem("batch, return sand", f"{moist} kg is not possible", "give what the scale showed")
    yield from _probe("batch", batch.probe_moisture, batch.probe_temperature)


def _probe(where: str, moisture: float | None, temperature: float | None) -> Iterator[Problem]:
    if moisture is not None and not 0.0 <= moisture <= 50.0:
        yield Problem(f"{where}, probe moisture", f"{moisture} % is not possible", "leave it out")
    if temperature is not None and not -40.0 <= temperature <= 400.0:
        yield Problem(f"{where}, probe temperature", f"{temperature} C is not possible", "leave it out")


def _production(event: Production) -> Iterator[Problem]:
    where = f"production of {event.job}"
    if event.until_us < event.at_us:
        yield Problem(where, "ends before it begins", "check the clock")
    if not 0.1 <= event.sand_to_metal <= 100.0:
        yield Problem(where, f"sand:metal {event.sand_to_metal} is not possible", "give 0.1 to 100")
    if not (0.0 <= event.metal_t < inf and 0.0 <= event.core_sand_t < inf):
        yield Problem(where, f"{event.metal_t} t metal, {event.core_sand_t} t cores", "give 0 t or more")
