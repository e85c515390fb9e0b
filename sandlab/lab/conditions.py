"""What is set at the muller: releases, and what the operator answered to them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TypeVar

from sandlab.lab.opening import Lab
from sandlab.records import Acknowledgement, Override, Release

Answer = TypeVar("Answer", Acknowledgement, Override)


def present_kg(lab: Lab) -> Mapping[str, float]:
    """What each feeder is set to now: the operator's override, else the release, else the reference."""
    kg = {name: feeder.reference_kg for name, feeder in lab.sand.feeders.items()}
    release = newest_release(lab)
    if release is not None:
        kg |= release.added_kg
        override = answer_to(lab, release, Override)
        if override is not None:
            kg |= override.added_kg
    return {name: value for name, value in kg.items() if name in lab.sand.feeders}


def confirmed_kg(lab: Lab, release: Release) -> Mapping[str, float]:
    """What the operator last said was set before a release: one that nobody answered may never have been."""
    kg = {name: feeder.reference_kg for name, feeder in lab.sand.feeders.items()}
    answers: list[Acknowledgement | Override] = [
        *lab.store.records(Acknowledgement, lab.system, until=release.at, last=2),
        *lab.store.records(Override, lab.system, until=release.at, last=2),
    ]
    answers = [one for one in answers if one.release != release.id]
    if answers:
        answered = lab.store.record(Release, max(answers, key=lambda one: one.at).release)
        if answered is not None:
            override = answer_to(lab, answered, Override)
            kg |= {**answered.added_kg, **(override.added_kg if override else {})}
    return kg


def unanswered_before(lab: Lab, release: Release) -> Release | None:
    """The release before this one, when the operator never said that it was set."""
    found = lab.store.records(Release, lab.system, until=release.at, last=2)
    before = next((one for one in found if one.id != release.id), None)
    if before is None or answer_to(lab, before, Acknowledgement) or answer_to(lab, before, Override):
        return None
    return before


def set_since(lab: Lab) -> datetime | None:
    """Since when the feeders are set as they are: the override or the release in force."""
    release = newest_release(lab)
    if release is None:
        return None
    override = answer_to(lab, release, Override)
    return release.at if override is None else override.at


def settings_since(lab: Lab, since: datetime) -> list[tuple[datetime, Mapping[str, float]]]:
    """What the feeders were set to from when on, oldest first; before the first release the reference."""
    reference = {name: feeder.reference_kg for name, feeder in lab.sand.feeders.items()}
    before = lab.store.records(Release, lab.system, until=since, last=1)
    changes = [
        (one.at, one.added_kg) for one in (*before, *lab.store.records(Release, lab.system, since=since))
    ]
    changes += [(one.at, one.added_kg) for one in lab.store.records(Override, lab.system, since=since)]
    first = [(min([since, *(at for at, _ in changes)]), reference)]
    return sorted([*first, *changes], key=lambda one: one[0])


def newest_release(lab: Lab) -> Release | None:
    """The release in force: the last one."""
    found = lab.store.records(Release, lab.system, last=1)
    return found[-1] if found else None


def answer_to(lab: Lab, release: Release, kind: type[Answer]) -> Answer | None:
    """The operator's last acknowledgement or override of a release."""
    found = [
        one for one in lab.store.records(kind, lab.system, since=release.at) if one.release == release.id
    ]
    return found[-1] if found else None
