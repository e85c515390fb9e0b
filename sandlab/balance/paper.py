"""What in the papers does not fit: stock below zero, lots on top of each other, no production."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from sandlab.balance.evidence import words
from sandlab.balance.log import Log
from sandlab.balance.stream import HOUR_US, Receipt, StockCounted
from sandlab.balance.voice import Voice
from sandlab.balance.wording import REPEAT_H

SLACK = 0.02  # of what was fed: a feeder's error is no missing receipt
MIXED = 0.05  # of a lot: less than this of the old one under it is not worth a word
LATE_H = 24.0  # production may be written down a day late
LOOK_BACK_H = 240.0
FEWEST = 20  # batches without production that are worth a word


def paper_flags(log: Log, at_us: int) -> tuple[str, ...]:
    """Everything in results, receipts, counts and production that looks wrong at a time, in words."""
    return (
        *_doubted(log, at_us),
        *_stocks(log, at_us),
        *_together(log, at_us),
        *_production(log, at_us),
    )


def _doubted(log: Log, at_us: int) -> Iterator[str]:
    """Last results that somebody doubts, as long as they ask for their repeat."""
    for name, (taken_us, _, value, _, doubtful) in sorted(log.newest.items()):
        if doubtful and at_us - taken_us < REPEAT_H * HOUR_US:
            result = f"{words(name)} {log.plant.voice.of(name, value)}"
            yield f"{result} is doubted and counts for a quarter: repeat the test"


def _stocks(log: Log, at_us: int) -> Iterator[str]:
    """Silos that were counted: fed more than there was, or a lot on what was left of the last one."""
    voice = log.plant.voice
    for material in dict.fromkeys(feeder.material.id for feeder in log.feeders):
        counts = [one for one in log.counted if one.material == material and one.at_us <= at_us]
        if not counts:
            continue
        fed = fed_kg(log, material, counts[-1].at_us, at_us)
        stock = stock_kg(log, counts[-1], at_us)
        if stock < -SLACK * fed:
            yield (
                f"{words(material)}: {voice.number(-stock, 0)} kg more were fed than the silo held by count "
                "and receipts: count it again, look for a receipt, weigh the feeder out"
            )
        yield from _on_top(log, counts[-1], at_us, voice)


def fed_kg(log: Log, material: str, after_us: int, until_us: int) -> float:
    """What the feeders of a material fed from one time until another, as weighed [kg]."""
    places = [place for place, feeder in enumerate(log.feeders) if feeder.material.id == material]
    batches = (one for one in log.batches if after_us <= one.at_us < until_us)
    return sum(float(log.added(dict(one.added_kg))[places].sum()) for one in batches)


def stock_kg(log: Log, count: StockCounted, at_us: int) -> float:
    """What a silo holds by its last count, receipts and batches; below 0 when they contradict [kg]."""
    came = sum(lot.kg for lot in log.lots_of(count.material) if count.at_us <= lot.at_us < at_us)
    return count.kg + came - fed_kg(log, count.material, count.at_us, at_us)


def _on_top(log: Log, count: StockCounted, at_us: int, voice: Voice) -> Iterator[str]:
    """The newest lot while what lay under it is not fed yet."""
    lots = [lot for lot in log.lots_of(count.material) if lot.at_us <= at_us]
    if len(lots) < 2 or lots[-1].at_us <= count.at_us or lots[-1].kg <= 0.0:
        return
    new, old = lots[-1], lots[-2]
    under = stock_kg(log, count, new.at_us)
    left = under - fed_kg(log, count.material, new.at_us, at_us)
    if left > MIXED * new.kg:
        yield (
            f"{words(new.material)}: lot {new.lot} lies on about {voice.number(left, 0)} kg of "
            f"lot {old.lot}; reckoned with is {_assay(new, voice)}, mixed with {_assay(old, voice)} "
            "until that is fed"
        )


def _assay(lot: Receipt, voice: Voice) -> str:
    parts = [f"{words(name)} {voice.of(name, value)}" for name, value in lot.assay.items()]
    return " and ".join(parts) or "no assay"


def _together(log: Log, at_us: int) -> Iterator[str]:
    """Lots of one material filled in at one time."""
    for material in dict.fromkeys(feeder.material.id for feeder in log.feeders):
        lots = [lot for lot in log.lots_of(material) if at_us - LOOK_BACK_H * HOUR_US < lot.at_us <= at_us]
        for first, second in pairwise(lots):
            if first.at_us == second.at_us:
                yield (
                    f"{words(material)}: lots {first.lot} and {second.lot} were filled in together; their "
                    "mean assay by kg is used"
                )


def _production(log: Log, at_us: int) -> Iterator[str]:
    """Batches of the last days whose production nobody wrote down."""
    since, until = at_us - int(LOOK_BACK_H * HOUR_US), at_us - int(LATE_H * HOUR_US)
    voice = log.plant.voice
    usual = voice.number(log.plant.loop.sand_to_metal)
    lacking = [at for at in log.at if since <= at < until and not log.poured_at(at)]
    if len(lacking) < FEWEST:
        return
    if not log.any_poured:
        yield f"no production is written down: the usual sand:metal {usual} is used"
        return
    first, last = ((at_us - at) / HOUR_US / 24.0 for at in (lacking[0], lacking[-1]))
    yield (
        f"no production is written down for {len(lacking)} batches made {voice.number(first, 1)} to "
        f"{voice.number(last, 1)} days ago: sand:metal as planned, or the usual {usual}, is used"
    )
