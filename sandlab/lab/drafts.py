"""Half-typed sets: kept while typed, offered again after a crash, a lost terminal or a shift change."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from pydantic import AwareDatetime, ValidationError

from sandlab.lab.entry import Entry
from sandlab.lab.facts import Facts
from sandlab.lab.opening import Lab
from sandlab.lab.showing import age_words, clock_text


class DraftSet(Facts):
    """One half-typed form; `sample` is the id it will be saved under, so that it cannot be saved twice."""

    sample: str
    test_set: str
    point: str
    title: str
    begun: AwareDatetime
    taken: str
    note: str
    entries: tuple[Entry, ...]


class Draft(Facts):
    """What one terminal has half typed, and who typed it last."""

    by: str
    at: AwareDatetime
    sets: tuple[DraftSet, ...]


class LeftDraft(Facts):
    """Half-typed sets that no terminal holds any more, in words."""

    name: str
    by: str
    at: datetime
    sets: tuple[DraftSet, ...]
    words: tuple[str, ...]


def keep(lab: Lab, sets: Sequence[DraftSet], *, by: str) -> None:
    """Write down what is half typed; nothing half typed takes the file away."""
    if sets:
        draft = Draft(by=by, at=lab.now(), sets=tuple(sets))
        lab.drafts.keep(lab.new_id(), draft.model_dump_json())
    else:
        lab.drafts.done()


def left(lab: Lab) -> tuple[LeftDraft, ...]:
    """What was left half typed, oldest first; what has been saved since is taken off."""
    found = []
    for name, text in lab.drafts.left().items():
        draft = _read(lab, text)
        if draft is not None and draft.sets:
            found.append(_left(lab, name, draft))
        else:
            throw_away(lab, name)
    return tuple(sorted(found, key=lambda one: one.at))


def take_up(lab: Lab, name: str, *, by: str) -> LeftDraft | None:
    """Make a left draft this terminal's own; None when another terminal has been quicker."""
    with lab.drafts.taken(name) as text:
        draft = _read(lab, text) if text else None
        if draft is not None:
            keep(lab, draft.sets, by=by)
    return _left(lab, name, draft) if draft is not None else None


def throw_away(lab: Lab, name: str) -> None:
    """Remove a left draft for good."""
    with lab.drafts.taken(name):
        pass


def _read(lab: Lab, text: str) -> Draft | None:
    """A draft with the sets that are not saved yet; None when it cannot be read."""
    try:
        draft = Draft.model_validate_json(text)
    except ValidationError:
        return None
    saved = lab.store.known_ids(one.sample for one in draft.sets)
    return draft.model_copy(update={"sets": tuple(one for one in draft.sets if one.sample not in saved)})


def _left(lab: Lab, name: str, draft: Draft) -> LeftDraft:
    now = lab.now()
    minutes = (now - draft.at) / timedelta(minutes=1)
    age = f"{age_words(minutes)} ago" if minutes >= 1 else "just now"
    who = f"by {draft.by or 'somebody without initials'}"
    words = tuple(f"{one.title}: {_count(one)}, {who}" for one in draft.sets)
    when = f"Last typed at {clock_text(draft.at, lab.zone, now)}, {age}."
    return LeftDraft(name=name, by=draft.by, at=draft.at, sets=draft.sets, words=(*words, when))


def _count(one: DraftSet) -> str:
    count = len(one.entries)
    return f"{count} value{'' if count == 1 else 's'}" if count else "a note"
