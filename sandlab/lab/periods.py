"""Stretches of time asked for: checked, and said in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sandlab.errors import Problem
from sandlab.lab.opening import Lab

MICROSECOND = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class Period:
    """From `since` to `until`, both included; None is open."""

    since: datetime | None = None
    until: datetime | None = None

    def problems(self) -> list[Problem]:
        """What is wrong with it."""
        if self.since and self.until and self.since > self.until:
            return [Problem("period", "ends before it begins", "give the earlier time as --from")]
        return []

    def holds(self, moment: datetime) -> bool:
        """Whether a moment lies in it."""
        return (self.since is None or moment >= self.since) and (self.until is None or moment <= self.until)


def words(lab: Lab, period: Period) -> str:
    """The period on the plant's clock."""

    def text(moment: datetime) -> str:
        return f"{moment.astimezone(lab.zone):%Y-%m-%d %H:%M}"

    if period.since is None and period.until is None:
        return "the whole history"
    start = f"from {text(period.since)}" if period.since else ""
    end = f"to {text(period.until + MICROSECOND)}" if period.until else ""
    return f"{start} {end}".strip()
