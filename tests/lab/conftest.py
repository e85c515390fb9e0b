"""A plant of its own for each test: empty folder, fixed clock, counted ids."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sandlab.lab.entry import Entry, record_sample
from sandlab.lab.facts import SavedFacts
from sandlab.lab.opening import Lab, open_lab

MONDAY = datetime(2026, 3, 2, 8, 5, tzinfo=UTC)


@dataclass
class Clock:
    """A clock that stands still until it is moved."""

    now: datetime = MONDAY

    def __call__(self) -> datetime:
        return self.now

    def move(self, **span: float) -> None:
        """Let time pass."""
        self.now += timedelta(**span)


@dataclass
class Ids:
    """Record ids in order: the same on every run."""

    count: int = field(default=0)

    def __call__(self) -> str:
        self.count += 1
        return str(uuid.UUID(int=self.count, version=4))


@pytest.fixture
def clock() -> Clock:
    """The lab's clock."""
    return Clock()


@pytest.fixture
def lab(tmp_path: Path, clock: Clock) -> Iterator[Lab]:
    """An empty plant with the shipped specs."""
    opened = open_lab(tmp_path / "plant", clock=clock, new_id=Ids())
    yield opened
    opened.close()


Log = Callable[..., SavedFacts]


@pytest.fixture
def log(lab: Lab) -> Log:
    """Log a sample of typed texts, for example log(compactability="42")."""

    def record(*, confirmed: tuple[str, ...] = (), **texts: str) -> SavedFacts:
        entries = [Entry(name, text) for name, text in texts.items()]
        return record_sample(lab, point="muller_discharge", by="JV", entries=entries, confirmed=confirmed)

    return record
