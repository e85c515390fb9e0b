"""Notes on the time line."""

from __future__ import annotations

from datetime import datetime

from sandlab.errors import impossible
from sandlab.lab.facts import EventFacts
from sandlab.lab.opening import Lab
from sandlab.records import Event


def add_event(lab: Lab, *, text: str, by: str, kind: str = "note", at: datetime | None = None) -> EventFacts:
    """Put a note on the time line."""
    if not text.strip() or not by.strip():
        raise impossible("note", "needs a text and initials", "type both")
    now = lab.now()
    event = Event.model_validate(
        {
            "id": lab.new_id(),
            "system": lab.system,
            "at": at or now,
            "by": by.strip(),
            "recorded_at": now,
            "kind": kind,
            "text": text.strip(),
        }
    )
    lab.store.save([event])
    return EventFacts(at=event.at, kind=event.kind, text=event.text, by=event.by)


def events(lab: Lab, since: datetime | None) -> tuple[EventFacts, ...]:
    """The notes from a time on, oldest first."""
    stored = lab.store.records(Event, lab.system, since=since)
    return tuple(EventFacts(at=one.at, kind=one.kind, text=one.text, by=one.by) for one in stored)
