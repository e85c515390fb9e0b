"""Answers about instruments: how their lines are, and what they offer."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from sandlab.lab.facts.base import Facts


class OfferFacts(Facts):
    """A value that an instrument shows, to be taken over; `target` is a property or METHOD.READING."""

    reading: str
    instrument: str
    label: str
    point: str
    target: str
    value: float
    text: str
    unit: str
    at: datetime
    words: str


class BatchOfferFacts(Facts):
    """A batch that the muller reported, for a person to log."""

    reading: str
    instrument: str
    label: str
    at: datetime
    number: int | None
    return_sand_kg: float | None
    added_kg: dict[str, float]
    words: str


class InstrumentFacts(Facts):
    """One instrument: whether it is listened to and connected, since when, and what was heard last."""

    instrument: str
    label: str
    connection: Literal["serial", "tcp", "folder"]
    port: str
    state: Literal["connected", "lost", "not_listened_to"]
    since: datetime | None
    heard_at: datetime | None
    line: str
    heard: int
    repeated: int
    unread: int
    words: str


class InstrumentsFacts(Facts):
    """All instruments of a plant, and what they offer now."""

    instruments: tuple[InstrumentFacts, ...]
    offers: tuple[OfferFacts, ...]
    batches: tuple[BatchOfferFacts, ...]
    listening: bool
    log: str
