"""Handing over: notes for the next shift, shown until somebody of it has read them."""

from __future__ import annotations

from datetime import datetime, timedelta

from sandlab.errors import InputError, Problem, impossible
from sandlab.lab.facts import HandoverFacts, HandoverNoteFacts
from sandlab.lab.opening import Lab
from sandlab.lab.showing import age_words, clock_text
from sandlab.records import Event, NoteRead

LONGEST_NOTE = 500


def handover(lab: Lab, *, since: datetime | None = None, last: int = 50) -> HandoverFacts:
    """The latest handover notes, newest first, each with who has read it and when."""
    now = lab.now()
    stored = [one for one in lab.store.records(Event, lab.system, since=since) if one.kind == "handover"]
    chosen = stored[-last:]
    read = _read(lab, chosen[0].at) if chosen else {}
    notes = tuple(_note(lab, one, read.get(one.id), now) for one in reversed(chosen))
    unread = sum(not one.read_by for one in notes)
    return HandoverFacts(now=now, notes=notes, unread=unread, words=_words(len(notes), unread))


def write_handover(lab: Lab, *, text: str, by: str) -> HandoverFacts:
    """Leave a note for the next shift; raises InputError when it says nothing or nobody signs it."""
    problems = []
    if not text.strip():
        problems.append(Problem("handover note", "is empty", "say what the next shift has to know"))
    if len(text) > LONGEST_NOTE:
        what = f"has {len(text)} characters, at most {LONGEST_NOTE} are read"
        problems.append(Problem("handover note", what, "make it shorter, or write two"))
    if not by.strip():
        problems.append(Problem("technician", "no initials", "type your initials first"))
    if problems:
        raise InputError(problems)
    now = lab.now()
    note = Event(
        id=lab.new_id(),
        system=lab.system,
        at=now,
        by=by.strip(),
        recorded_at=now,
        kind="handover",
        text=text.strip(),
    )
    lab.store.save([note])
    return handover(lab)


def take_over(lab: Lab, *, by: str) -> HandoverFacts:
    """Acknowledge every unread note of others; raises InputError when there is none to acknowledge.

    Nobody takes over a note of their own: it stays until somebody else has read it.
    """
    name = by.strip()
    if not name:
        raise impossible("technician", "no initials", "type your initials first")
    unread = [one for one in handover(lab).notes if not one.read_by]
    taken = [one for one in unread if one.by.casefold() != name.casefold()]
    if not taken:
        own = "the only unread note is your own" if unread else "every note has been read"
        do = "it stays until somebody else has read it" if unread else "nothing is left to do"
        raise impossible("handover", own, do)
    now = lab.now()
    lab.store.save(
        [
            NoteRead(id=lab.new_id(), system=lab.system, at=now, by=name, recorded_at=now, note=one.note)
            for one in taken
        ]
    )
    return handover(lab)


def _read(lab: Lab, since: datetime) -> dict[str, NoteRead]:
    """The first reading of each note."""
    found: dict[str, NoteRead] = {}
    for one in lab.store.records(NoteRead, lab.system, since=since):
        found.setdefault(one.note, one)
    return found


def _note(lab: Lab, note: Event, read: NoteRead | None, now: datetime) -> HandoverNoteFacts:
    written = f"written {clock_text(note.at, lab.zone, now)} by {note.by}"
    if read is not None:
        answer = f"read {clock_text(read.at, lab.zone, now)} by {read.by}"
    else:
        minutes = (now - note.at) / timedelta(minutes=1)
        answer = f"unread for {age_words(minutes)}" if minutes >= 1 else "not read yet"
    return HandoverNoteFacts(
        note=note.id,
        at=note.at,
        by=note.by,
        text=note.text,
        read_at=read.at if read else None,
        read_by=read.by if read else "",
        words=f"{written}, {answer}",
    )


def _words(count: int, unread: int) -> str:
    if not count:
        return "No handover note has been written yet."
    if not unread:
        return "Every handover note has been read."
    return f"{unread} handover note{'s' if unread > 1 else ''} not read yet."
