"""The sand's way round the plant today: what goes round, what comes in and what leaves, kg an hour."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from sandlab.balance.composition import vector
from sandlab.balance.flows import Flows, flows
from sandlab.balance.recommender import Recommender
from sandlab.drawing import Arm, FlowPicture, Station
from sandlab.lab.estimates import feeder_label
from sandlab.lab.facts import ArmFacts, FlowFacts, StationFacts
from sandlab.lab.opening import Lab
from sandlab.lab.series import microseconds, moment_of
from sandlab.lab.showing import clock_text
from sandlab.quantities import format_number

FEW = 10
"""Batches below which a day has hardly begun, so that the last day is shown instead."""


def flow_today(lab: Lab, recommender: Recommender, now: datetime) -> FlowFacts:
    """The streams since local midnight, or over the last day of running where today has hardly begun."""
    log = recommender.log
    midnight = now.astimezone(lab.zone).replace(hour=0, minute=0, second=0, microsecond=0)
    last = min(now, moment_of(log.at[-1]))
    since = midnight
    if sum(1 for at in log.at if microseconds(midnight) <= at) < FEW:
        since = last - timedelta(hours=24)
    return flow(lab, recommender, since, last)


def flow(lab: Lab, recommender: Recommender, since: datetime, until: datetime) -> FlowFacts:
    """The streams of the batches of a stretch of time, by what is known of the sand and of its wear."""
    end_us = microseconds(until)
    sand = {name: one.value for name, one in recommender.prepared(end_us).items()}
    known = recommender.learned()
    loop = replace(
        recommender.plant.loop,
        clay_wear_factor=known["clay_wear_factor"].value,
        carbon_wear_factor=known["carbon_wear_factor"].value,
    )
    found = flows(recommender.log, microseconds(since), end_us, vector(sand), loop)
    return _facts(lab, found, since, until)


def _facts(lab: Lab, found: Flows, since: datetime, until: datetime) -> FlowFacts:
    cycle_h = 1000.0 * lab.sand.stock.sand_t / found.returned
    around, sum_text = _number(lab, cycle_h, 1), _number(lab, found.comes, 0)
    one_day = since.astimezone(lab.zone).date() == until.astimezone(lab.zone).date()
    when = (
        f"{clock_text(since, lab.zone, until)} to {clock_text(until, lab.zone, until if one_day else None)}"
    )
    return FlowFacts(
        since=since,
        until=until,
        batches=found.batches,
        hours=found.hours,
        stations=_stations(lab, found),
        prepared_t_per_h=found.prepared / 1000.0,
        returned_t_per_h=found.returned / 1000.0,
        metal_t_per_h=found.metal / 1000.0,
        comes_kg_per_h=found.comes,
        leaves_kg_per_h=found.leaves,
        cycle_h=cycle_h,
        heads=("comes in, kg/h", "the sand, dry t/h", "leaves, kg/h"),
        returned_words=("return sand", _tonnes(lab, found.returned)),
        sum_text=sum_text,
        around=f"once round in {around} h",
        words=f"{found.batches} batches, {when}: {sum_text} kg an hour of running come in and leave.",
    )


def _stations(lab: Lab, found: Flows) -> tuple[StationFacts, ...]:
    """The places on the sand's way, from the muller down; feeders in the order of the specs."""
    order = list(lab.sand.feeders)
    fed = [(name, feeder_label(lab, name), kg) for name, kg in found.fed.items()]
    fed.sort(key=lambda one: order.index(one[0]))
    core = [("core_sand", "Core sand", found.core_sand)] if found.core_sand else []
    stock = f"{_number(lab, lab.sand.stock.sand_t, 0)} t in all"
    metal = f"metal {_tonnes(lab, found.metal)}"
    made, poured = _tonnes(lab, found.prepared), [("burned_out", found.gas), ("steam", found.steam_after)]
    return (
        _station(lab, "muller", "Muller", made, fed, [("steam", found.steam_muller)]),
        _station(lab, "moulding", "Moulding", metal),
        _station(lab, "pouring", "Pouring, shake-out", "", core, poured),
        _station(lab, "cooling", "Cooling, dust", "", (), [("dust", found.dust)]),
        _station(lab, "silo", "Silo", stock, (), [("carried_out", found.carried_out)]),
    )


def _station(
    lab: Lab,
    name: str,
    label: str,
    text: str,
    comes: Iterable[tuple[str, str, float]] = (),
    leaves: Iterable[tuple[str, float]] = (),
) -> StationFacts:
    def arm(key: str, words: str, kg: float) -> ArmFacts:
        return ArmFacts(name=key, label=words, kg_per_h=kg, text=_number(lab, kg, 0))

    return StationFacts(
        name=name,
        label=label,
        text=text,
        comes=tuple(arm(*one) for one in comes),
        leaves=tuple(arm(key, key.replace("_", " "), kg) for key, kg in leaves),
    )


def _tonnes(lab: Lab, kg: float) -> str:
    return _number(lab, kg / 1000.0, 1)


def _number(lab: Lab, value: float, decimals: int) -> str:
    return format_number(value, decimals, mark=lab.mark)


def flow_picture(facts: FlowFacts) -> FlowPicture:
    """The flows as shapes."""
    return FlowPicture(
        heads=facts.heads,
        stations=tuple(
            Station(
                one.label,
                one.text,
                tuple(Arm(arm.label, arm.kg_per_h, arm.text) for arm in one.comes),
                tuple(Arm(arm.label, arm.kg_per_h, arm.text) for arm in one.leaves),
            )
            for one in facts.stations
        ),
        returned=facts.returned_words,
        came=Arm("in all", facts.comes_kg_per_h, facts.sum_text),
        left=Arm("in all", facts.leaves_kg_per_h, facts.sum_text),
        around=facts.around,
    )
