"""The plant that learns: its start values from specs and accepted values, told what happened at the plant."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import hypot

from sandlab import balance, schedule
from sandlab.balance import DemandFit, PlantModel, Recommender, Voice
from sandlab.balance.sand_filter import Spread
from sandlab.balance.stream import Event, Outlook
from sandlab.balance.stream import PlannedJob as Planned
from sandlab.balance.temper import SLOPE_PRIOR
from sandlab.lab.accepting import accepted
from sandlab.lab.assuming import assumed_batches
from sandlab.lab.conditions import present_kg, set_since
from sandlab.lab.happened import happened
from sandlab.lab.opening import Lab
from sandlab.lab.showing import display_decimals, display_unit
from sandlab.records import PlannedJob, PlantValues
from sandlab.specs import Specs, System
from sandlab.store.rows import microseconds

# What an advice looks back on: about ten passes round the system; older tests say next to nothing of it.
WINDOW = timedelta(days=10)
USUAL_FROM = timedelta(days=21)
LOOP_VALUES = ("clay_wear_factor", "carbon_wear_factor", "core_retention")


@dataclass(frozen=True, slots=True)
class Told:
    """A recommender that was told the plant's history, and what of the history looked wrong."""

    recommender: Recommender
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Untold:
    """A recommender and the plant's history, gathered from the store but not yet told to it."""

    recommender: Recommender
    events: tuple[Event, ...]
    doubts: tuple[str, ...]
    set_us: int | None
    set_kg: Mapping[str, float]


def untold(
    lab: Lab, since: datetime, until: datetime, progress: Callable[[float], None] = lambda share: None
) -> Untold:
    """What happened from `since` on, as known at `until`: all that the store has to be asked for."""
    values = accepted(lab)
    recommender = Recommender(plant_model(lab, since), spread=_spread(values))
    progress(0.0)
    events = happened(lab, since=since, until=until, progress=progress)
    filled = assumed_batches(lab, events, since=since, until=until)
    at = set_since(lab)
    set_us = None if at is None else microseconds(at)
    return Untold(recommender, tuple(filled.events), filled.doubts, set_us, present_kg(lab))


def recalled(known: Untold, progress: Callable[[float], None] = lambda share: None) -> Told:
    """The recommender told all of it; reads nothing from the store, so it may run in a thread of its own."""
    recommender = known.recommender
    refused = recommender.recall(known.events, progress)
    if known.set_us is not None:
        recommender.set_to(known.set_us, known.set_kg)
    doubts = tuple(f"left out of the balance: {problem}" for problem in refused)
    return Told(recommender, (*known.doubts, *doubts))


def told(
    lab: Lab, since: datetime, until: datetime, progress: Callable[[float], None] = lambda share: None
) -> Told:
    """The recommender told what happened from `since` on, as known at `until`, and set as the muller is.

    What `progress` raises ends the work; it is called with the share done.
    """
    return recalled(untold(lab, since, until, progress), progress)


def window_start(now: datetime, window: timedelta) -> datetime:
    """The UTC midnight at which a window begins: one start for every terminal all day long."""
    return (now - window).astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)


def outlook(lab: Lab, now: datetime) -> Outlook:
    """The jobs of the coming twelve hours, as planned."""
    jobs = lab.store.records(
        PlannedJob, lab.system, since=now - timedelta(days=7), until=now + timedelta(hours=12)
    )
    return Outlook(
        tuple(
            Planned(one.at_us, microseconds(one.until), one.job, one.sand_to_metal, one.core_sand_t_per_t)
            for one in jobs
            if one.until > now
        )
    )


def plant_model(lab: Lab, since: datetime | None = None) -> PlantModel:
    """The sand system before its own data speak: specs, accepted values, the tests before `since`."""
    values = accepted(lab)
    usual = {} if since is None else _usual(lab, since)
    own = dict(values.values) if values else {}
    return model_of(lab.specs, lab.system, present=present_kg(lab), own=own, usual=usual)


def model_of(
    specs: Specs,
    system: str,
    *,
    present: Mapping[str, float] | None = None,
    own: Mapping[str, float] | None = None,
    usual: Mapping[str, float] | None = None,
) -> PlantModel:
    """A sand system as its specs describe it; raises InputError where the balance needs more of them.

    present: what the feeders are set to, else their reference [kg]
    own: plant values in place of the specs' start values
    usual: level of the prepared sand at the start, else the targets [% of dry]
    """
    sand, own = specs.systems[system], own or {}
    loop = balance.Loop(**(sand.loop.model_dump() | {k: v for k, v in own.items() if k in LOOP_VALUES}))
    return PlantModel(
        feeders=_feeders(specs, sand, present or {}),
        targets=tuple(
            balance.Target(key, sand.targets[key].target, sand.targets[key].tolerance)
            for key in ("compactability", *balance.COMPONENTS)
            if key in sand.targets
        ),
        muller=balance.Muller(
            batch_kg=sand.muller.batch_kg,
            work_kwh_per_t=sand.muller.work_kwh_per_t,
            discharge_eta=sand.muller.discharge_eta,
            ambient_temperature=sand.muller.ambient_temperature,
            return_moisture=sand.muller.return_moisture,
            return_temperature=sand.muller.return_temperature,
        ),
        loop=loop,
        stock_t=sand.stock.sand_t,
        batches_per_h=sand.muller.batches_per_h,
        usual=usual or {},
        demand=_demand(own),
        slope=own.get("slope", SLOPE_PRIOR),
        bond=own.get("bond", 0.5),
        source=(own.get("carbon_source", 0.0), own.get("fines_source", 0.0)),
        voice=voice(specs),
    )


def voice(specs: Specs) -> Voice:
    """How the balance says numbers at this plant."""
    shown = {}
    for key, entry in specs.properties.items():
        unit = display_unit(specs, key)
        shown[key] = (entry.unit, unit, display_decimals(entry, unit))
    return Voice(specs.plant.decimal_mark, shown)


def _usual(lab: Lab, since: datetime) -> dict[str, float]:
    """Median of the last five results of each component in the weeks before the window."""
    found = {}
    for key in balance.COMPONENTS:
        if key not in lab.specs.properties:
            continue
        point = schedule.home_point(lab.sand, key)
        last = lab.store.results(lab.system, key, point=point, since=since - USUAL_FROM, until=since, last=5)
        median = last["value"].median() if last.height >= 3 else None
        if isinstance(median, float):
            found[key] = max(0.0, median)
    return found


def _spread(values: PlantValues | None) -> Spread:
    """How sure the start values are: accepted ones as their fit, and a little for what has changed since."""
    usual = Spread()
    if values is None:
        return usual

    def relative(name: str, otherwise: float, least: float) -> float:
        value, sd = values.values.get(name), values.sd.get(name)
        if not value or sd is None:
            return otherwise
        return min(otherwise, hypot(sd / abs(value), least))

    return Spread(
        clay_wear=relative("clay_wear_factor", usual.clay_wear, 0.04),
        carbon_wear=relative("carbon_wear_factor", usual.carbon_wear, 0.06),
        bond=relative("bond", usual.bond, 0.03),
    )


def _demand(own: Mapping[str, float]) -> DemandFit | None:
    """The accepted moisture demand, None when nobody accepted one."""
    fit = {name.removeprefix("demand_"): value for name, value in own.items() if name.startswith("demand_")}
    return DemandFit(**fit) if "constant" in fit else None


def _feeders(specs: Specs, sand: System, present: Mapping[str, float]) -> tuple[balance.Feeder, ...]:
    return tuple(
        balance.Feeder(
            id=name,
            material=_material(specs, feeder.material),
            minimum_kg=feeder.minimum_kg,
            maximum_kg=feeder.maximum_kg,
            resolution_kg=feeder.resolution_kg,
            greatest_step_kg=feeder.greatest_step_kg,
            present_kg=present.get(name, feeder.reference_kg),
            reference_kg=feeder.reference_kg,
        )
        for name, feeder in sand.feeders.items()
    )


def _material(specs: Specs, key: str) -> balance.Material:
    entry = specs.materials[key]
    return balance.Material(
        id=key,
        kind=entry.kind,
        moisture=entry.moisture,
        assay={str(name): share for name, share in entry.assay.items()},
        temperature=entry.temperature,
        cost_per_t=entry.cost_per_t,
    )
