"""The specs that old results were taken under: what they are judged by, and how that differs from today's."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from pydantic import ValidationError

from sandlab.lab.opening import Lab
from sandlab.lab.periods import Period
from sandlab.lab.showing import display_unit, shown_unit, text_of
from sandlab.labels import inside
from sandlab.records import Sample
from sandlab.specs import Specs, Target, from_canonical


def specs_then(lab: Lab, hash_: str) -> Specs:
    """The specs of a hash; those of today where the text is not kept or can no longer be read."""
    if hash_ == lab.specs.hash:
        return lab.specs
    text = lab.store.specs_text(hash_)
    return (_read(text) if text else None) or lab.specs


def unchanged(lab: Lab, hash_: str) -> bool:
    """Whether the specs of a hash say the same as those of today; neither order nor instruments matter."""
    if hash_ == lab.specs.hash:
        return True
    then = specs_then(lab, hash_)
    if then is lab.specs:
        return False
    return then.model_copy(update={"instruments": lab.specs.instruments}) == lab.specs


@lru_cache(maxsize=8)
def _read(text: str) -> Specs | None:
    try:
        return from_canonical(text)
    except (KeyError, ValueError, ValidationError):
        return None


@dataclass(frozen=True, slots=True)
class TargetSpan:
    """So long one target was in force: the first and last result taken under it."""

    target: Target | None
    since: datetime
    until: datetime


class Then:
    """The specs of each sample of a period."""

    def __init__(self, lab: Lab, period: Period) -> None:
        self._lab = lab
        frame = lab.store.frame(Sample, lab.system, since=period.since, until=period.until)
        self._hashes: dict[str, str] = dict(frame.select("id", "specs_hash").iter_rows())
        self._specs = {hash_: specs_then(lab, hash_) for hash_ in set(self._hashes.values())}

    def specs(self, sample: str) -> Specs:
        """The specs under which a sample was taken."""
        return self._specs.get(self._hashes.get(sample, ""), self._lab.specs)

    def target(self, sample: str, key: str) -> Target | None:
        """Where a property belonged when a sample was taken; none without a target."""
        return target_of(self.specs(sample), self._lab.system, key)

    def stretches(self, key: str, tests: Sequence[tuple[str, datetime]]) -> list[TargetSpan]:
        """The targets that tests of a property (sample, time) were taken under, one after the other."""
        found: list[TargetSpan] = []
        for sample, at in tests:
            target = self.target(sample, key)
            if found and found[-1].target == target:
                found[-1] = TargetSpan(target, found[-1].since, at)
            else:
                found.append(TargetSpan(target, at, at))
        return found


def target_of(specs: Specs, system: str, key: str) -> Target | None:
    """The target of a property in some specs; none where the system or the target is not there."""
    sand = specs.systems.get(system)
    return sand.targets.get(key) if sand else None


def differing(lab: Lab, key: str, stretches: Sequence[TargetSpan]) -> str:
    """What results were judged by where it is not today's throughout, in words; else nothing."""
    now = lab.sand.targets.get(key)
    if all(one.target == now for one in stretches):
        return ""
    reaction = any(_reaction(one.target) != _reaction(now) for one in stretches)

    def said(target: Target | None) -> str:
        return " ".join(_limits(lab, key, target, reaction=reaction))

    *earlier, last = stretches
    then = [f"{said(one.target)} until {one.until.astimezone(lab.zone):%d %b %H:%M}" for one in earlier]
    if last.target == now:
        return ", then ".join([*then, f"today's {said(now)}"])
    return f"{', then '.join([*then, said(last.target)])} (today {said(now)})"


def _reaction(target: Target | None) -> tuple[float, float] | None:
    return target.reaction if target else None


def _limits(lab: Lab, key: str, target: Target | None, *, reaction: bool) -> Iterator[str]:
    unit = shown_unit(display_unit(lab.specs, key))
    if target is None:
        yield "no tolerance"
        return
    yield f"{_tolerance_text(lab, key, target)} {unit}".strip()
    if reaction:
        low, high = (text_of(lab.specs, key, end) for end in target.reaction)
        yield f"with reaction limits {low} and {high}"


def tolerances(lab: Lab, key: str, stretches: Sequence[TargetSpan]) -> str:
    """The tolerances that were in force, one after the other."""
    texts = [_tolerance_text(lab, key, one.target) for one in stretches if one.target]
    return ", then ".join(text for place, text in enumerate(texts) if texts[place - 1 : place] != [text])


def _tolerance_text(lab: Lab, key: str, target: Target) -> str:
    low, high = (text_of(lab.specs, key, target.target + side * target.tolerance) for side in (-1, 1))
    return f"{low} to {high}"


def differing_names(lab: Lab, sample: Sample) -> list[str]:
    """The tests of a sample that were judged by another target than today's, by their labels."""
    then = specs_then(lab, sample.specs_hash)
    if then.hash == lab.specs.hash:
        return []
    return [
        inside(lab.specs.properties[one.property].label)
        for one in sample.results
        if one.property in lab.specs.properties
        and target_of(then, lab.system, one.property) != lab.sand.targets.get(one.property)
    ]
