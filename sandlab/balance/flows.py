"""What goes round and what crosses the border of the sand system in an hour of running."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from sandlab.balance.batch import dry_mass
from sandlab.balance.composition import COMPONENTS, Floats
from sandlab.balance.heat import discharge_temperature, evaporation
from sandlab.balance.log import Log
from sandlab.balance.loop import Loop, cycle
from sandlab.balance.muller_charge import water_balance
from sandlab.balance.stream import HOUR_US
from sandlab.errors import impossible


@dataclass(frozen=True, slots=True)
class Flows:
    """The streams of a period, per hour of running; what comes in is what leaves, dry and as water.

    batches: made in the period; hours: of running that they are worth [h]
    fed: feeder id -> as weighed, water among them [kg/h]
    core_sand: that stays in the sand [kg/h]
    steam_muller, steam_after: evaporated in the muller, and behind it in mould, shake-out and cooler [kg/h]
    gas: burned out, clay's bound water with it [kg/h]; burned: component -> lost in the mould [kg/h]
    dust: extracted [kg/h]; carried_out: on castings and by the overflow, dry, to hold the stock [kg/h]
    prepared, returned: dry sand [kg/h]; metal: poured on it [kg/h]
    """

    batches: int
    hours: float
    fed: Mapping[str, float]
    core_sand: float
    steam_muller: float
    steam_after: float
    gas: float
    burned: Mapping[str, float]
    dust: float
    carried_out: float
    prepared: float
    returned: float
    metal: float

    @property
    def comes(self) -> float:
        """All that comes in [kg/h]."""
        return sum(self.fed.values()) + self.core_sand

    @property
    def leaves(self) -> float:
        """All that leaves [kg/h]."""
        return self.steam_muller + self.steam_after + self.gas + self.dust + self.carried_out


def flows(log: Log, after_us: int, until_us: int, prepared: Floats, loop: Loop) -> Flows:
    """The streams of the batches of a period, for sand of this composition and these wear factors.

    Losses follow from the loop's equations, steam from the heat of the mean batch and the water fed; what is
    carried out is what must leave for the stock to stay. Sand that leaves is counted dry, its water as steam.

    prepared: components of the prepared sand, shape (4,) [% of dry]
    """
    chosen = range(bisect_left(log.at, after_us), bisect_right(log.at, until_us))
    if not chosen:
        raise impossible("flows", "no batch was logged in that time", "choose another day")
    charges = [log.charged(index) for index in chosen]
    count = len(charges)
    weighed = np.mean([log.added(dict(log.batches[index].added_kg)) for index in chosen], axis=0)
    added = np.mean([one.added_kg for one in charges], axis=0)
    dry = sum(one.dry_kg for one in charges) / count
    total = dry + float(added.sum())
    metal = sum((one.dry_kg + float(one.added_kg.sum())) / one.sand_to_metal for one in charges) / count
    core = sum(one.core * (one.dry_kg + float(one.added_kg.sum())) for one in charges) / count
    passed = cycle(prepared, _meant(loop, total / metal, core / total))
    share = total / 100.0
    gas, dust = float(passed.gas_kg) * share, float(passed.dust_kg) * share
    water_id, water = _water(log, chosen)
    steam = _steam(log, chosen, weighed, dry, water)
    per_h = log.plant.batches_per_h
    fed = {f.id: kg * per_h for f, kg in zip(log.feeders, weighed.tolist(), strict=True)}
    burned = (passed.burnt_kg * share * per_h).tolist()
    return Flows(
        batches=count,
        hours=count / per_h,
        fed={**fed, water_id: water * per_h},
        core_sand=core * per_h,
        steam_muller=steam * per_h,
        steam_after=(water + float((weighed - added).sum()) - steam) * per_h,
        gas=gas * per_h,
        burned={name: kg for name, kg in zip(COMPONENTS, burned, strict=True) if kg},
        dust=dust * per_h,
        carried_out=(float(added.sum()) + core - gas - dust) * per_h,
        prepared=total * per_h,
        returned=dry * per_h,
        metal=metal * (1.0 - loop.spill) * per_h,
    )


def _meant(loop: Loop, sand_to_metal: float, core: float) -> Loop:
    """The loop of the period's mean job; core sand per sand as it stayed."""
    retention = loop.core_retention or 1.0
    return replace(
        loop,
        sand_to_metal=sand_to_metal,
        core_retention=retention,
        core_sand_t_per_t=core * sand_to_metal / retention,
    )


def _water(log: Log, chosen: range) -> tuple[str, float]:
    """The water feeder and what it fed in the mean batch [kg]."""
    feeder = next(f for f in log.plant.feeders if f.material.kind == "water")
    kg = [log.batches[index].added_kg.get(feeder.id, feeder.present_kg) for index in chosen]
    return feeder.id, sum(kg) / len(kg)


def _steam(log: Log, chosen: range, weighed: Floats, dry_kg: float, water_kg: float) -> float:
    """Water that evaporates in the muller from the mean batch [kg]."""
    muller = log.plant.muller
    moisture = _tested(log, "return_moisture", chosen, muller.return_moisture)
    temperature = _tested(log, "return_temperature", chosen, muller.return_temperature)
    expected = discharge_temperature(temperature, muller.ambient_temperature, muller.discharge_eta)
    offset = _tested(log, "sand_temperature", chosen, expected) - expected
    feeder = next(f for f in log.plant.feeders if f.material.kind == "water")
    moist = dry_kg / dry_mass(1.0, moisture)
    additions = list(zip(log.feeders, weighed.tolist(), strict=True))
    batch = water_balance(
        muller,
        moist,
        moisture,
        temperature,
        additions,
        discharge_offset=offset,
        water_temperature=feeder.material.temperature,
    )
    gone = evaporation(batch.heat, water_kg, batch.water_temperature, batch.discharge)
    carried = sum(kg * (1.0 - feeder.material.dry_share) for feeder, kg in additions)
    return float(min(gone, water_kg + carried))


def _tested(log: Log, name: str, chosen: range, usual: float) -> float:
    """Mean result of the period, from a cycle before it on; the usual value where there is none."""
    start = log.at[chosen[0]] - 4 * HOUR_US
    values = [
        value
        for taken, key, value, _, doubtful in log.results
        if key == name and not doubtful and start <= taken <= log.at[chosen[-1]]
    ]
    return sum(values) / len(values) if values else usual
