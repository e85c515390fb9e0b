"""Timers of timed tests on the disk: a crash or a lost terminal does not stop them."""

from __future__ import annotations

from datetime import timedelta

from pydantic import AwareDatetime, ValidationError

from sandlab.lab.facts import Facts
from sandlab.lab.opening import Lab

STALE = timedelta(hours=12)
"""Nobody waits any more for what was over, or was stopped, that long ago."""


class KeptTimer(Facts):
    """A time under way; without `seconds` a key stops it."""

    property: str
    label: str
    what: str
    seconds: int | None
    reading: str
    started: AwareDatetime


class KeptTime(Facts):
    """A stopped time that waits for its reading."""

    property: str
    reading: str
    seconds: float
    at: AwareDatetime


class KeptTimers(Facts):
    """All timers of one terminal."""

    running: tuple[KeptTimer, ...] = ()
    stopped: tuple[KeptTime, ...] = ()


def keep_timers(lab: Lab, kept: KeptTimers) -> None:
    """Write down what runs and what was stopped; nothing of either takes the file away."""
    if kept.running or kept.stopped:
        lab.timers.keep(lab.new_id(), kept.model_dump_json())
    else:
        lab.timers.done()


def take_up_timers(lab: Lab) -> KeptTimers:
    """The timers that no terminal holds any more, from now on this terminal's; what is stale is dropped."""
    found = KeptTimers()
    for name in lab.timers.left():
        with lab.timers.taken(name) as text:
            one = _read(lab, text or "")
            found = KeptTimers(running=(*found.running, *one.running), stopped=(*found.stopped, *one.stopped))
            keep_timers(lab, found)
    return found


def _read(lab: Lab, text: str) -> KeptTimers:
    """What is still waited for; nothing when it cannot be read."""
    try:
        kept = KeptTimers.model_validate_json(text)
    except ValidationError:
        return KeptTimers()
    oldest = lab.now() - STALE
    return KeptTimers(
        running=tuple(
            one for one in kept.running if one.started + timedelta(seconds=one.seconds or 0) >= oldest
        ),
        stopped=tuple(one for one in kept.stopped if one.at >= oldest),
    )
