"""Writing down what the sand goes through: jobs poured and planned, deliveries, probes, silos, feeders."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any, TypeVar

from sandlab.balance import COMPONENTS
from sandlab.balance import stream as told
from sandlab.balance.events import check_event
from sandlab.balance.log import Log
from sandlab.errors import InputError, Problem, SandlabError
from sandlab.lab.batches import not_yet
from sandlab.lab.facts import WrittenFacts
from sandlab.lab.learning import plant_model
from sandlab.lab.opening import Lab
from sandlab.lab.showing import clock_text
from sandlab.quantities import format_number
from sandlab.records import BeltReading, FeederCheck, PlannedJob, Production, Receipt, Record, StockCount
from sandlab.store.rows import microseconds

R = TypeVar("R", Production, PlannedJob, Receipt, BeltReading, StockCount, FeederCheck)
ODD_ASSAY = 0.15  # relative to the last lot: beyond this a certificate is read twice
USUAL_METAL = (2.0, 15.0)  # sand:metal outside which a job is asked about; common practice
MOST_CORES = 5.0  # t of core sand per t of metal beyond which no job is


def log_production(
    lab: Lab,
    *,
    job: str,
    start: datetime,
    until: datetime,
    metal_t: float,
    sand_to_metal: float,
    core_sand_t: float,
    by: str,
) -> WrittenFacts:
    """What was poured from one time to another; raises InputError with every problem."""
    event = told.Production(
        microseconds(start), microseconds(until), job, metal_t, sand_to_metal, core_sand_t
    )
    _check(lab, event, by, seen=start)
    doubts = _odd_metal(lab, sand_to_metal)
    if not metal_t:
        doubts.append("no metal: for a stop nothing need be written down")
    if not_yet(lab, until):
        doubts.append(f"{clock_text(until, lab.zone, lab.now())}, its end, has not come yet")
    before = lab.store.records(Production, lab.system, since=start - timedelta(days=2), until=until)
    doubts += [
        f"{one.job} is written down until {clock_text(one.until, lab.zone, lab.now())} already"
        for one in before
        if one.at < until and start < one.until
    ]
    record = _record(
        lab, Production, by, start, until=until, job=job, metal_t=metal_t, sand_to_metal=sand_to_metal,
        core_sand_t=core_sand_t,
    )  # fmt: skip
    text = f"{job}: {_n(lab, metal_t)} t of metal, sand:metal {_n(lab, sand_to_metal)}, core sand "
    return _saved(lab, record, f"{text}{_n(lab, core_sand_t)} t", doubts)


def plan_job(
    lab: Lab,
    *,
    job: str,
    start: datetime,
    until: datetime,
    sand_to_metal: float,
    core_sand_t_per_t: float,
    by: str,
) -> WrittenFacts:
    """A job of the schedule: additions are fed forward to it."""
    event = told.Production(
        microseconds(start), microseconds(until), job, 1.0, sand_to_metal, core_sand_t_per_t
    )
    cores = Problem("core share", f"{core_sand_t_per_t:g} t per t of metal is impossible", "give 0 to 5")
    _check(lab, event, by, further=() if 0.0 <= core_sand_t_per_t <= MOST_CORES else (cores,))
    record = _record(
        lab, PlannedJob, by, start, until=until, job=job, sand_to_metal=sand_to_metal,
        core_sand_t_per_t=core_sand_t_per_t,
    )  # fmt: skip
    when = f"from {clock_text(start, lab.zone, lab.now())} to {clock_text(until, lab.zone, lab.now())}"
    text = f"{job} planned {when}: sand:metal {_n(lab, sand_to_metal)}"
    doubts = _odd_metal(lab, sand_to_metal)
    if until <= lab.now():
        doubts.append("it is over already: write down what was poured with `sandlab produced`")
    return _saved(lab, record, text, doubts)


def log_receipt(
    lab: Lab,
    *,
    material: str,
    lot: str,
    kg: float,
    assay: Mapping[str, float],
    by: str,
    moisture: float | None = None,
    fed_from: datetime | None = None,
) -> WrittenFacts:
    """A delivery with its certificate, fed from a time on (else now); raises InputError."""
    at = fed_from or lab.now()
    event = told.Receipt(microseconds(at), material, lot, dict(assay), moisture, kg)
    _check(lab, event, by)
    doubts = _odd_lot(lab, material, lot, assay)
    wet = {} if moisture is None else {"moisture": moisture}
    record = _record(lab, Receipt, by, at, material=material, lot=lot, kg=kg, assay={**assay, **wet})
    label = lab.specs.materials[material].label.partition(",")[0]  # its own lot is not this one
    said = ", ".join(f"{name.replace('_', ' ')} {_n(lab, value)} %" for name, value in record.assay.items())
    return _saved(lab, record, f"{label}, lot {lot}: {_n(lab, kg)} kg{', ' + said if said else ''}", doubts)


def log_probe(
    lab: Lab,
    *,
    by: str,
    moisture: float | None = None,
    temperature: float | None = None,
    at: datetime | None = None,
) -> WrittenFacts:
    """What the belt probes show, in the catalogue's units; raises InputError."""
    moment = at or lab.now()
    _check(lab, told.ProbeReading(microseconds(moment), moisture, temperature), by, seen=moment)
    if moisture is None and temperature is None:
        raise InputError(Problem("probe", "neither moisture nor temperature", "give what the probes show"))
    record = _record(lab, BeltReading, by, moment, moisture=moisture, temperature=temperature)
    parts = [] if moisture is None else [f"moisture {_n(lab, moisture)} %"]
    parts += [] if temperature is None else [f"temperature {_n(lab, temperature)} C"]
    return _saved(lab, record, f"Belt probes: {', '.join(parts)}", [])


def count_stock(lab: Lab, *, material: str, kg: float, by: str, at: datetime | None = None) -> WrittenFacts:
    """What is really in a silo; raises InputError."""
    moment = at or lab.now()
    _check(lab, told.StockCounted(microseconds(moment), material, kg), by, seen=moment)
    record = _record(lab, StockCount, by, moment, material=material, kg=kg)
    return _saved(lab, record, f"{lab.specs.materials[material].label}: {_n(lab, kg)} kg in the silo", [])


def weigh_feeder(
    lab: Lab, *, feeder: str, shown_kg: float, weighed_kg: float, by: str, at: datetime | None = None
) -> WrittenFacts:
    """A feeder weighed out: kg that it showed and kg that came; raises InputError."""
    moment = at or lab.now()
    _check(lab, told.FeederWeighed(microseconds(moment), feeder, shown_kg, weighed_kg), by, seen=moment)
    record = _record(lab, FeederCheck, by, moment, feeder=feeder, shown_kg=shown_kg, weighed_kg=weighed_kg)
    off = format_number(100.0 * (weighed_kg / shown_kg - 1.0), 1, mark=lab.mark)
    text = (
        f"{feeder.replace('_', ' ')}: {_n(lab, weighed_kg)} kg came where {_n(lab, shown_kg)} kg were shown"
    )
    return _saved(lab, record, f"{text} ({off} %)", [])


def _check(
    lab: Lab, event: told.Event, by: str, *, seen: datetime | None = None, further: Iterable[Problem] = ()
) -> None:
    """Refuse what cannot be, and what was seen at a time that has not come yet."""
    problems = [*further, *([] if seen is None else not_yet(lab, seen))]
    model = plant_model(lab)
    try:
        check_event(event, model, Log(model))
    except SandlabError as error:
        problems += error.problems
    if not by.strip():
        problems.append(Problem("initials", "are missing", "give your initials"))
    if problems:
        raise InputError(problems)


def _record(lab: Lab, kind: type[R], by: str, at: datetime, **fields: Any) -> R:
    now = lab.now()
    return kind(id=lab.new_id(), system=lab.system, at=at, by=by.strip(), recorded_at=now, **fields)


def _saved(lab: Lab, record: R, text: str, doubts: list[str]) -> WrittenFacts:
    lab.store.save([record])
    assert isinstance(record, Record)
    return WrittenFacts(record=record.id, at=record.at, by=record.by, text=text, doubts=tuple(doubts))


def _n(lab: Lab, value: float) -> str:
    return f"{value:g}".replace(".", lab.mark)


def _odd_metal(lab: Lab, sand_to_metal: float) -> list[str]:
    low, high = USUAL_METAL
    if low <= sand_to_metal <= high:
        return []
    return [f"sand:metal {_n(lab, sand_to_metal)} is unusual: kg of dry sand per kg of metal is meant"]


def _odd_lot(lab: Lab, material: str, lot: str, assay: Mapping[str, float]) -> list[str]:
    """What about a certificate is worth reading it twice."""
    doubts = []
    kind = lab.specs.materials[material].kind
    if kind in ("clay", "carbon", "premix") and not any(name in assay for name in COMPONENTS):
        doubts.append("no assay: the last one is reckoned with until the sand tells; ask for the certificate")
    earlier = [one for one in lab.store.records(Receipt, lab.system) if one.material == material]
    if any(one.lot == lot for one in earlier):
        doubts.append(f"lot {lot} was received before")
    last: dict[str, float] = {str(k): v for k, v in lab.specs.materials[material].assay.items()}
    for one in earlier:
        last |= one.assay
    for name, value in assay.items():
        was = last.get(name)
        if was and abs(value / was - 1.0) > ODD_ASSAY:
            doubts.append(
                f"{name.replace('_', ' ')} {_n(lab, value)} % after {_n(lab, was)} %: read it again"
            )
    return doubts
