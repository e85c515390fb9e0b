"""The books of a period: what came in, burned and left, what is in stock by test, what is missing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from sandlab.balance.composition import COMPONENTS, Floats, vector
from sandlab.balance.log import Log
from sandlab.balance.loop import cycle
from sandlab.balance.passage import FIXED_CARBON, Passage
from sandlab.balance.sand_filter import USUAL
from sandlab.balance.stream import HOUR_US
from sandlab.errors import impossible

EDGE_H = 72.0  # hours of tests that make the level at either end
FEED_SD, LOSS_SD = 0.02, 0.10  # of a feeder's kg, of the losses where their wear factors are accepted values
SURE = 2.0  # standard deviations beyond which a closing error is more than chance
BOOKED = ("active_clay", "volatiles")


@dataclass(frozen=True, slots=True)
class Account:
    """One component in kg: brought - burned - dust - left - gained = closing, which should be 0.

    brought: by feeder id and "core_sand"; gained: change of stock by tests; sd: of the closing error
    """

    brought: Mapping[str, float]
    burned: float
    dust: float
    left: float
    gained: float
    closing: float
    sd: float


@dataclass(frozen=True, slots=True)
class Books:
    """A period's accounts by component, additives per t of metal, and what the closing errors point to.

    dry_in_kg: all sand that came, and as much left; metal_t: by sand:metal; per_t: feeder -> kg per t metal
    """

    accounts: Mapping[str, Account]
    dry_in_kg: float
    metal_t: float
    per_t: Mapping[str, float]
    findings: tuple[str, ...]


@dataclass(slots=True)
class _Sums:
    """Masses that went through, summed over batches."""

    fed: Floats
    core: float
    pours: Floats
    prepared: float
    metal_t: float
    brought: Floats


def books(log: Log, after_us: int, until_us: int) -> Books:
    """Accounts of the batches of a period, from the log, the tests and the plant's accepted wear factors."""
    chosen = range(log.index(after_us), log.index(until_us) + 1) if log.at else range(0)
    if len(chosen) < 2:
        raise impossible("books", "fewer than two batches were logged in the period", "choose another period")
    sums = _summed(log, chosen)
    accounts, findings = {}, []
    for name in BOOKED:
        levels = _levels(log, name, log.at[chosen[0]], log.at[chosen[-1]])
        if levels is None:
            findings.append(f"{name.replace('_', ' ')}: too few tests at the ends of the period to close")
            continue
        account = _account(log, name, sums, levels)
        accounts[name] = account
        findings += _finding(log, name, account)
    metal = max(sums.metal_t, 1e-9)
    per_t = {f.id: kg / metal for f, kg in zip(log.feeders, sums.fed.tolist(), strict=True)}
    came = float(sums.brought.sum() + sums.core)
    return Books(accounts, came, sums.metal_t, per_t, tuple(findings))


def _summed(log: Log, chosen: range) -> _Sums:
    passage = Passage(log.plant.loop)
    count = len(log.feeders)
    sums = _Sums(np.zeros(count), 0.0, np.zeros(3), 0.0, 0.0, np.zeros(count))
    for index in chosen:
        charged = log.charged(index)
        prepared = charged.dry_kg + float(charged.added_kg.sum())
        sums.fed += log.added(dict(log.batches[index].added_kg))
        sums.brought += charged.added_kg
        sums.core += charged.core * prepared
        sums.prepared += prepared
        sums.pours += prepared * np.array(passage.burnt(charged.sand_to_metal, 0.0, 0.0))
        sums.metal_t += prepared * (1.0 - log.plant.loop.spill) / charged.sand_to_metal / 1000.0
    return sums


@dataclass(frozen=True, slots=True)
class _Levels:
    """Level of a component by test at the start, the end and over the period [%], and their sd."""

    start: float
    end: float
    mean: float
    change_sd: float
    mean_sd: float


def _levels(log: Log, name: str, first: int, last: int) -> _Levels | None:
    lab = log.plant.lab(name)
    seen = [(t, v) for t, n, v, _, doubtful in log.results if n == name and first <= t and not doubtful]
    seen = [(t, v) for t, v in seen if t <= last]
    edge = min(int(EDGE_H * HOUR_US), (last - first) // 3)
    start = [v for t, v in seen if t <= first + edge]
    end = [v for t, v in seen if t >= last - edge]
    if lab is None or len(start) < 2 or len(end) < 2:
        return None
    values = [v for _, v in seen]
    change = lab.sd * sqrt(1.0 / len(start) + 1.0 / len(end))
    mean_sd = lab.sd / sqrt(len(values))
    return _Levels(float(np.mean(start)), float(np.mean(end)), float(np.mean(values)), change, mean_sd)


def _account(log: Log, name: str, sums: _Sums, levels: _Levels) -> Account:
    place, loop = COMPONENTS.index(name), log.plant.loop
    assays = log.assays_at(log.at[-1])[0][:, place] / 100.0
    brought = {f.id: kg for f, kg in zip(log.feeders, (sums.brought * assays).tolist(), strict=True) if kg}
    if loop.core[place]:
        brought["core_sand"] = sums.core * float(loop.core[place]) / 100.0
    mean = levels.mean / 100.0
    burned = float(sums.pours[min(place, FIXED_CARBON)]) * mean
    extracted = (loop.dust_active_clay, loop.dust_volatiles)[place]
    dust = (sums.prepared * mean - burned) * extracted
    after = mean - burned / sums.prepared
    # what comes in and does not burn or go as dust pushes as much out, at the level of the return sand
    left = max(0.0, float(sums.brought.sum() + sums.core) - _gone(log, sums)) * after
    stock = 1000.0 * log.plant.stock_t
    gained = stock * (levels.end - levels.start) / 100.0
    came = sum(brought.values())
    losses = burned + dust + left
    sd = sqrt(
        (stock * levels.change_sd / 100.0) ** 2
        + (losses * levels.mean_sd / levels.mean) ** 2
        + (LOSS_SD * losses) ** 2
        + (FEED_SD * came) ** 2
    )
    return Account(brought, burned, dust, left, gained, came - losses - gained, sd)


def _gone(log: Log, sums: _Sums) -> float:
    """Gas and dust of the period, for usual sand at the period's mean sand:metal [kg]."""
    plant = log.plant
    targets = {t.property: t.target for t in plant.targets if t.property in COMPONENTS}
    usual = vector(USUAL | targets | dict(plant.usual))
    poured_t = sums.metal_t / (1.0 - plant.loop.spill)
    mean = replace(plant.loop, sand_to_metal=sums.prepared / 1000.0 / max(poured_t, 1e-9))
    pass_ = cycle(usual, mean)
    return float(pass_.gas_kg + pass_.dust_kg) / 100.0 * sums.prepared


def _finding(log: Log, name: str, account: Account) -> list[str]:
    if abs(account.closing) <= SURE * account.sd:
        return []
    most = max(account.brought, key=lambda key: account.brought[key], default="its feeder")
    share = 100.0 * account.closing / max(sum(account.brought.values()), 1e-9)
    size = f"{name.replace('_', ' ')}: {abs(account.closing):.0f} kg ({abs(share):.0f} % of what was logged) "
    if account.closing > 0.0:
        return [
            f"{size}is missing: {most} may feed less than it shows, or sand leaves where nobody weighs it"
        ]
    return [f"{size}is too much: {most} may feed more than it shows, or less burns than the wear factor says"]
