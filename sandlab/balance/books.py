"""The books of a period: what came in, burned and left, what is in stock by test, what is missing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np

from sandlab.balance.composition import COMPONENTS, Floats, vector
from sandlab.balance.log import Log
from sandlab.balance.loop import Loop, cycle
from sandlab.balance.passage import FINES, FIXED_CARBON, Passage
from sandlab.balance.sand_filter import USUAL, Spread
from sandlab.balance.stream import HOUR_US
from sandlab.balance.views import LASTING, lasting_sds, shown_by
from sandlab.errors import impossible

EDGE_H, RARE_EDGE_H = 72.0, 240.0  # hours of tests that make the level at either end; of weekly tests
FEED_SD, LOSS_SD = 0.02, 0.10  # of a feeder's kg, of the losses where their wear factors are accepted values
CARBON_SD = 0.20  # of the burnt fixed carbon where the wear factor of the volatiles stands in for its own
FORMED_SD = 0.25  # of what forms in the mould: coke yield, ash and fines of the burnt clay; common practice
SURE = 2.0  # standard deviations beyond which a closing error is more than chance
SHOWN_IN = {"fixed_carbon": "loss_on_ignition", "inert_fines": "afs_clay"}


@dataclass(frozen=True, slots=True)
class Account:
    """One component in kg: brought + formed - burned - dust - left - gained = closing, which should be 0.

    brought: by feeder id and "core_sand"; formed: in the mould, of what burns; gained: change of stock by
    tests; sd: of the closing error
    """

    brought: Mapping[str, float]
    formed: float
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
    known: dict[str, _Levels] = {}
    for name in COMPONENTS:
        levels = _levels(log, name, log.at[chosen[0]], log.at[chosen[-1]], known)
        if levels is not None:
            known[name] = levels
    accounts = {
        name: _account(log, name, sums, known) for name in known if set(_formed_of(name)) <= known.keys()
    }
    findings = [one for name, account in accounts.items() for one in _finding(name, account)]
    lacking = [name.replace("_", " ") for name in COMPONENTS if name not in accounts]
    if lacking:
        names = " and ".join([", ".join(lacking[:-1]), lacking[-1]] if lacking[1:] else lacking)
        findings.append(f"{names}: too few tests at the ends of the period to close")
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
    """What a component gained by test over the period, its mean [%], and their sd."""

    change: float
    mean: float
    change_sd: float
    mean_sd: float


def _levels(log: Log, name: str, first: int, last: int, known: Mapping[str, _Levels]) -> _Levels | None:
    """By its own tests, else by a test that shows it with others, whose levels are known."""
    own, test = _tested(log, name, first, last), SHOWN_IN.get(name)
    if own is not None or test is None:
        return own
    whole = _tested(log, test, first, last, fewest=1, edge_h=RARE_EDGE_H)
    weights = dict(zip(COMPONENTS, shown_by(log.plant.loop.bound_water)[test].tolist(), strict=True))
    others = {other: weight for other, weight in weights.items() if weight and other != name}
    if whole is None or not others.keys() <= known.keys():
        return None
    parts = [(weight, known[other]) for other, weight in others.items()]
    usual = vector({other: one.mean for other, one in known.items()})
    lasting = float(lasting_sds(usual)[LASTING.index(test)])
    return _Levels(
        whole.change - sum(weight * one.change for weight, one in parts),
        whole.mean - sum(weight * one.mean for weight, one in parts),
        hypot(whole.change_sd, *(weight * one.change_sd for weight, one in parts)),
        hypot(lasting, whole.mean_sd, *(weight * one.mean_sd for weight, one in parts)),
    )


def _tested(
    log: Log, name: str, first: int, last: int, *, fewest: int = 2, edge_h: float = EDGE_H
) -> _Levels | None:
    """The levels of what a test shows; what it moved from edge to edge goes on to the ends of the period."""
    lab = log.plant.lab(name)
    seen = [
        (t, v) for t, n, v, _, doubtful in log.results if n == name and first <= t <= last and not doubtful
    ]
    edge = min(int(edge_h * HOUR_US), (last - first) // 3)
    start = np.array([(t, v) for t, v in seen if t <= first + edge])
    end = np.array([(t, v) for t, v in seen if t >= last - edge])
    if lab is None or len(start) < fewest or len(end) < fewest:
        return None
    (began, low), (ended, high) = start.mean(axis=0).tolist(), end.mean(axis=0).tolist()
    whole = (last - first) / (ended - began)
    change = whole * lab.sd * sqrt(1.0 / len(start) + 1.0 / len(end))
    mean_sd = lab.sd / sqrt(len(seen))
    return _Levels(whole * (high - low), float(np.mean([v for _, v in seen])), change, mean_sd)


def _formed_of(name: str) -> Mapping[str, Callable[[Loop], float]]:
    """Of which burnt components a component forms, and the share that it takes."""
    if name == "fixed_carbon":
        return {"volatiles": lambda loop: loop.coke_yield}
    if name == "inert_fines":
        return {
            "active_clay": lambda loop: loop.burnt_clay_to_fines * (1.0 - loop.bound_water),
            "volatiles": lambda loop: loop.volatiles_ash,
            "fixed_carbon": lambda loop: loop.carbon_ash,
        }
    return {}


def _burned(name: str, sums: _Sums, known: Mapping[str, _Levels]) -> float:
    place = COMPONENTS.index(name)
    return 0.0 if place > FIXED_CARBON else float(sums.pours[place]) * known[name].mean / 100.0


def _account(log: Log, name: str, sums: _Sums, known: Mapping[str, _Levels]) -> Account:
    place, loop, levels = COMPONENTS.index(name), log.plant.loop, known[name]
    assays = log.assays_at(log.at[-1])[0][:, place] / 100.0
    brought = {f.id: kg for f, kg in zip(log.feeders, (sums.brought * assays).tolist(), strict=True) if kg}
    if loop.core[place]:
        brought["core_sand"] = sums.core * float(loop.core[place]) / 100.0
    mean, burned = levels.mean / 100.0, _burned(name, sums, known)
    residue = sum(share(loop) * _burned(other, sums, known) for other, share in _formed_of(name).items())
    beside, beside_sd = _beside(log, place, sums)
    formed = residue + beside
    extracted = (loop.dust_active_clay, loop.dust_volatiles, loop.dust_fixed_carbon, loop.dust_inert_fines)
    dust = (sums.prepared * mean - burned + formed) * extracted[place]
    after = mean + (formed - burned) / sums.prepared
    # what comes in and does not burn or go as dust pushes as much out, at the level of the return sand
    left = max(0.0, float(sums.brought.sum() + sums.core) - _gone(log, sums)) * after
    stood_in = CARBON_SD if place == FIXED_CARBON and loop.fixed_carbon_wear_factor is None else 0.0
    stock = 1000.0 * log.plant.stock_t
    gained = stock * levels.change / 100.0
    came = sum(brought.values())
    losses = burned + dust + left
    sd = hypot(
        stock * levels.change_sd / 100.0,
        losses * levels.mean_sd / levels.mean,
        LOSS_SD * losses,
        stood_in * burned,
        FEED_SD * came,
        FORMED_SD * residue,
        beside_sd,
    )
    return Account(brought, formed, burned, dust, left, gained, came + formed - losses - gained, sd)


def _beside(log: Log, place: int, sums: _Sums) -> tuple[float, float]:
    """What joins fixed carbon and inert fines beside the loop, by the plant's value, and its sd [kg].

    An accepted value is taken as known to half of itself; without one broken grain may be as much as usual.
    """
    if place < FIXED_CARBON:
        return 0.0, 0.0
    per_cycle = log.plant.source[place - FIXED_CARBON]
    usual = Spread().source[1] if place == FINES else 0.0
    sd = 0.5 * abs(per_cycle) if per_cycle else usual
    return sums.prepared * per_cycle / 100.0, sums.prepared * sd / 100.0


def _gone(log: Log, sums: _Sums) -> float:
    """Gas and dust of the period, for usual sand at the period's mean sand:metal [kg]."""
    plant = log.plant
    targets = {t.property: t.target for t in plant.targets if t.property in COMPONENTS}
    usual = vector(USUAL | targets | dict(plant.usual))
    poured_t = sums.metal_t / (1.0 - plant.loop.spill)
    mean = replace(plant.loop, sand_to_metal=sums.prepared / 1000.0 / max(poured_t, 1e-9))
    pass_ = cycle(usual, mean)
    return float(pass_.gas_kg + pass_.dust_kg) / 100.0 * sums.prepared


def _finding(name: str, account: Account) -> list[str]:
    if abs(account.closing) <= SURE * account.sd:
        return []
    came = sum(account.brought.values())
    most = max(account.brought, key=lambda key: account.brought[key], default="its feeder")
    share = 100.0 * account.closing / max(came + account.formed, 1e-9)
    of = "what came and formed" if account.formed else "what was logged"
    size = f"{name.replace('_', ' ')}: {abs(account.closing):.0f} kg ({abs(share):.0f} % of {of}) "
    missing, much = (
        f"{most} may feed less than it shows, or sand leaves where nobody weighs it",
        f"{most} may feed more than it shows, or less burns than the wear factor says",
    )
    if account.formed > came:
        missing = "more is drawn off as dust than is reckoned with, or sand leaves where nobody weighs it"
        much = "more of it forms in the mould than is reckoned with, or less is drawn off as dust"
    if account.closing > 0.0:
        return [f"{size}is missing: {missing}"]
    return [f"{size}is too much: {much}"]
