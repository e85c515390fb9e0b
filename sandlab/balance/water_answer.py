"""The water of the next batch as an addition: kg with their parts, what binds, what it rests on."""

from __future__ import annotations

from dataclasses import replace

from sandlab.balance.additions import limits
from sandlab.balance.answer import Addition, Evidence, Miss, Part
from sandlab.balance.batch import water_per_dry
from sandlab.balance.composition import Floats
from sandlab.balance.evidence import age_words, words
from sandlab.balance.log import Log
from sandlab.balance.steering import bound_words, clipped, outside_words
from sandlab.balance.stream import HOUR_US, MINUTE_US, BatchMade, Estimated, Recommendation
from sandlab.balance.temper import LEVEL_SD
from sandlab.balance.voice import Voice
from sandlab.balance.water_filter import BALANCE, BATCH_SCATTER, DEMAND, SLOPE, STOP, WaterState
from sandlab.balance.watering import DRIEST, WETTEST, Ahead, Water, Watering
from sandlab.balance.wording import HOT, TOO_HOT, brief_words, change_words, doubt_words, fresh, hold_words

STALE_H = 4.0  # a test of the last hours is followed even where the sand is restless; common practice
RETURN_SAND = ("return_moisture", "return_temperature")


def with_water(
    settings: Recommendation, watering: Watering, batch: BatchMade, returned: Floats
) -> Recommendation:
    """Settings of the other feeders completed by the water of the next batch made with them."""
    ahead, water = watering.ahead(batch, returned), watering.water(batch, returned)
    at_us, voice, target = settings.at_us, watering.plant.voice, watering.target
    slope = float(ahead.state.gaussian.mean[SLOPE])
    now = target.target + slope * (ahead.balance.moisture(ahead.feeder.present_kg) - water.moisture)
    sd = slope * (water.moisture_sd**2 + BATCH_SCATTER**2) ** 0.5
    known = _evidence(watering, ahead.state, Estimated(min(max(now, 0.0), 100.0), sd), at_us)
    addition = _addition(watering, ahead, water, known)
    moisture = ahead.balance.moisture(addition.kg)
    reached = min(max(target.target + slope * (moisture - water.moisture), 0.0), 100.0)
    hold = hold_words({addition.feeder: known.weak})
    clause, brief = _clauses(watering, known, addition)
    return replace(
        settings,
        additions=(*settings.additions, addition),
        sd_kg={**settings.sd_kg, addition.feeder: ahead.balance.dry_kg * water.moisture_sd / 100.0},
        moisture=Estimated(moisture + ahead.above_balance, water.moisture_sd),
        compactability=Estimated(reached, sd),
        misses=(*settings.misses, *_misses(watering, addition, reached)),
        rests_on=(*settings.rests_on, known, *_return_sand(watering.log, at_us)),
        flags=(*settings.flags, *_flags(watering, ahead, water, batch, voice)),
        void_if=(
            *settings.void_if,
            f"return sand {voice.difference('return_temperature', 10.0)} hotter or colder, "
            f"or {voice.difference('return_moisture', 0.5)} wetter or drier",
            "the first batches after a stop",
        ),
        reason=f"{settings.reason.rstrip('.')}; {clause}.",
        brief=f"{settings.brief.rstrip('.')}; {brief}.",
        hold=settings.hold or bool(hold),
        hold_reason=" ".join(one for one in (settings.hold_reason, hold) if one),
    )


def _evidence(watering: Watering, state: WaterState, known: Estimated, at_us: int) -> Evidence:
    """Compactability at the water that is set now, its last test, and why it is too weak to move water."""
    name, log, voice = "compactability", watering.log, watering.plant.voice
    last = log.newest.get(name)
    doubted = any(one.property == name and fresh(one, at_us) for one in state.doubts)
    weak = ""
    if last is None:
        weak = f"no test of {words(name)}"
    elif known.sd > watering.target.tolerance and at_us - last[0] > STALE_H * HOUR_US:
        weak = f"{words(name)} is only known to +/- {voice.of(name, 1.645 * known.sd)}"
    elif doubted and known.sd > 0.5 * watering.target.tolerance:
        weak = f"the last {words(name)} result is doubtful"
    age = None if last is None else max(0.0, (at_us - last[0]) / MINUTE_US)
    return Evidence(name, known.value, None if last is None else last[2], age, log.counts[name], weak)


def _addition(watering: Watering, ahead: Ahead, water: Water, known: Evidence) -> Addition:
    """Water as an addition: within limits and resolution, or what is set now when it is held."""
    feeder, voice, held = ahead.feeder, watering.plant.voice, bool(known.weak)
    kg = clipped(feeder) if held else water.kg
    binds = list(outside_words(feeder, voice))
    if not held:
        bounds = limits(feeder)
        binds += bound_words(feeder, water.ideal_kg, min(max(water.ideal_kg, bounds.low), bounds.high), voice)
        if not binds and abs(kg - water.ideal_kg) > 1e-6:
            binds.append(f"resolution {voice.kg(feeder.resolution_kg)}")
    return Addition(
        feeder=feeder.id,
        material=feeder.material.id,
        kind="water",
        kg=kg,
        change_kg=round(kg - feeder.present_kg, 9),
        ideal_kg=water.ideal_kg,
        parts=(Part("held", kg),) if held else _parts(watering, ahead, water, kg),
        binds=tuple(binds),
        held=held,
    )


def _parts(watering: Watering, ahead: Ahead, water: Water, kg: float) -> tuple[Part, ...]:
    """What the water is for, in kg; the parts add up to the setting.

    level: what sand of this composition asks for; compactability: what the tests have taught beyond it;
    return_sand: what the return sand brings, by the probe or the tests; additions: what they bring.
    """
    dry, held = ahead.balance.dry_kg, ahead.balance.water_kg
    mean = ahead.state.gaussian.mean

    def of(moisture: float) -> float:
        return dry * water_per_dry(min(max(moisture, DRIEST), WETTEST))

    taught = ahead.demand + float(mean[DEMAND] - mean[BALANCE] - ahead.first * mean[STOP])
    aim, level = of(water.moisture), of(ahead.demand)
    muller = watering.plant.muller
    sand = muller.batch_kg * muller.return_moisture / 100.0
    return (
        Part("level", level),
        Part("compactability", of(taught) - level),
        Part("evaporation", water.ideal_kg - (aim - held)),
        Part("return_sand", aim - of(taught) - sand),
        Part("additions", sand - held),
        Part("limits", kg - water.ideal_kg),
    )


def _misses(watering: Watering, addition: Addition, reached: float) -> tuple[Miss, ...]:
    """Compactability as a missed target where a limit of the water feeder binds."""
    binding = [text for text in addition.binds if not text.startswith("resolution")]
    target = watering.target
    if addition.held or not binding:
        return ()
    because = f"{words(addition.feeder)} at its {', '.join(binding)}"
    return (Miss(target.property, target.target, reached, target.tolerance, because),)


def _return_sand(log: Log, at_us: int) -> tuple[Evidence, ...]:
    """The last tests of the return sand."""
    found = []
    for name in RETURN_SAND:
        last = log.newest.get(name)
        if last is not None:
            age = max(0.0, (at_us - last[0]) / MINUTE_US)
            found.append(Evidence(name, last[2], last[2], age, log.counts[name], ""))
    return tuple(found)


def _flags(watering: Watering, ahead: Ahead, water: Water, batch: BatchMade, voice: Voice) -> tuple[str, ...]:
    flags = [doubt_words(one, batch.at_us, voice) for one in ahead.state.doubts if fresh(one, batch.at_us)]
    for name, assumed in watering.assumed(batch).items():
        flags.append(f"no recent {words(name)}: {voice.of(name, assumed)}, the usual value, was used")
    temperature = watering.warmth(batch)
    if temperature > HOT:
        what = (
            "cannot be mulled to constant properties" if temperature > TOO_HOT else "behaves inconsistently"
        )
        flags.append(f"return sand at {voice.of('return_temperature', temperature)} {what}: cool it")
    asked = float(ahead.state.gaussian.mean[DEMAND])
    if abs(asked) > 3.0 * LEVEL_SD:
        more = voice.of("moisture", abs(asked))
        side = "more" if asked > 0.0 else "less"
        flags.append(
            f"the sand asks for {more} {side} moisture than is expected of its clay: "
            "check water meter, return moisture and sampling"
        )
    if not DRIEST <= water.moisture <= WETTEST:
        low, high = voice.number(DRIEST), voice.number(WETTEST)
        flags.append(f"the moisture asked for lies outside {low} to {high} % and was cut")
    return tuple(flags)


def _clauses(watering: Watering, known: Evidence, addition: Addition) -> tuple[str, str]:
    """What is known of compactability and what follows, in full and shortly."""
    voice, target = watering.plant.voice, watering.target
    moved = change_words(addition, voice)
    wanted = voice.of(target.property, target.target)
    if known.age_min is None:
        text = f"compactability never tested, target {wanted}: {moved}"
        return text, text
    value = voice.of(target.property, known.value)
    age = age_words(known.age_min)
    full = f"compactability at the present water {value} (last test {age} ago) against {wanted}: {moved}"
    return full, brief_words(f"compactability {value}", wanted, [addition])
