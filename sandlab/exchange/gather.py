"""Entries into samples: one for each point, time and technician; repeats and contradictions are tallied."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import lru_cache
from typing import Literal
from uuid import UUID
from zoneinfo import ZoneInfo

from sandlab.exchange.moments import Moment, in_zone
from sandlab.exchange.notes import RowNote, Severity, Tally
from sandlab.exchange.rows import Entry, Value
from sandlab.records import Result, Sample

# Ids of imported samples are uuid5 in this namespace, itself uuid5(NAMESPACE_DNS, "import.sandlab").
# With another one, files that were imported before would be imported a second time.
NAMESPACE = UUID("d98e0872-9e67-56be-8978-dbc8acc3e28a")


@dataclass(slots=True)
class _Draft:
    """A sample while its rows are collected."""

    point: str
    at: datetime
    by: str
    sheet: str
    remarks: list[str] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    values: dict[str, Value] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Clash:
    """A value that differs from what an earlier row has for the same property, point and time."""

    new: Value
    draft: _Draft
    row: int

    @property
    def earlier(self) -> Value:
        """The value of the earlier row, with the flags it has got meanwhile."""
        return self.draft.values[self.new.property]


class Gatherer:
    """Turns the entries of one file into samples of one sand system."""

    def __init__(self, file: str, system: str, zone: ZoneInfo, now: datetime, tally: Tally) -> None:
        self.file, self.system, self.zone, self.now, self.tally = file, system, zone, now, tally
        self.places: dict[str, tuple[str, int]] = {}
        self._drafts: dict[tuple[str, datetime, str, str], _Draft] = {}
        # Which draft has a property of a point and time, from which row.
        self._first: dict[tuple[str, datetime, str], tuple[_Draft, int]] = {}

    def take(self, entries: Iterable[Entry]) -> None:
        """Add entries in the order of the file: of two that contradict each other the first stays."""
        for entry in entries:
            stated = entry.when.tzinfo is not None
            moments = (Moment(entry.when.astimezone(UTC)),) if stated else in_zone(entry.when, self.zone)
            # In an hour that comes twice a row that contradicts the first pass is of the second.
            free = (moment for moment in moments if not self._clashes(entry, moment.at))
            self._take_at(entry, next(free, moments[0]))

    def _take_at(self, entry: Entry, moment: Moment) -> None:
        clashes = self._clashes(entry, moment.at)
        if moment.at > self.now:
            what = f"{entry.when:%Y-%m-%d %H:%M} is still to come: the row is left out"
            self._note("refused", entry, what, "correct the date, or the clock of this computer")
        elif clashes:
            self._refuse(entry, clashes)
        else:
            self._keep(entry, moment)

    def _note(self, severity: Severity, entry: Entry, what: str, do: str) -> None:
        self.tally.notes.append(RowNote(entry.sheet, entry.row, "", "", what, do, severity))

    def _clashes(self, entry: Entry, at: datetime) -> list[_Clash]:
        clashes = []
        for value in entry.values:
            draft, row = self._first.get((entry.point, at, value.property), (None, 0))
            if draft is not None:
                earlier = draft.values[value.property]
                if (value.value, value.censored) != (earlier.value, earlier.censored):
                    clashes.append(_Clash(value, draft, row))
        return clashes

    def _refuse(self, entry: Entry, clashes: list[_Clash]) -> None:
        """Leave the row out, and flag the values that it contradicts."""
        clash = clashes[0]
        new, earlier = clash.new, clash.earlier
        what = f"same time and point as row {clash.row}, which has '{earlier.text}': the row is left out"
        do = "see which is right, and correct it in the tool if it is this one"
        self.tally.notes.append(RowNote(entry.sheet, entry.row, new.column, new.text, what, do, "refused"))
        what = f"row {entry.row} has '{new.text}' for the same time and point; this one is kept"
        place = (clash.draft.sheet, clash.row, earlier.column, earlier.text)
        self.tally.notes.append(RowNote(*place, what, "see which is right", "doubtful"))
        for each in clashes:
            flag = f"row {entry.row} of the imported file says '{each.new.text}'"
            flagged = replace(each.earlier, flags=(*each.earlier.flags, flag))
            each.draft.values[flagged.property] = flagged

    def _keep(self, entry: Entry, moment: Moment) -> None:
        """Add what no earlier row has said; a row with nothing new is a duplicate."""
        place = (entry.point, moment.at)
        new = [value for value in entry.values if (*place, value.property) not in self._first]
        if not new:
            self.tally.duplicates += 1
            _, row = self._first[(*place, entry.values[0].property)]
            self._note("skipped", entry, f"says the same as row {row}", "")
            return
        self.tally.notes += entry.notes
        if moment.doubt:
            self._note("doubtful", entry, moment.doubt, "correct the time in the tool if it is wrong")
        key = (*place, entry.by, entry.sheet)
        draft = self._drafts.setdefault(key, _Draft(entry.point, moment.at, entry.by, entry.sheet))
        draft.rows.append(entry.row)
        draft.remarks += [text for text in (moment.doubt, entry.remark) if text and text not in draft.remarks]
        for value in new:
            draft.values[value.property] = value
            self._first[(*place, value.property)] = (draft, entry.row)

    def samples(self, specs_hash: str) -> tuple[Sample, ...]:
        """All samples in order of time and point."""
        drafts = sorted(self._drafts.values(), key=lambda draft: (draft.at, draft.point, draft.rows[0]))
        samples = []
        for done, draft in enumerate(drafts, start=1):
            sample = self._sample(draft, specs_hash)
            samples.append(sample)
            self.places[sample.id] = (draft.sheet, draft.rows[0])
            if done % 1000 == 0:
                self.tally.tell("making records", done, len(drafts))
        return tuple(samples)

    def _sample(self, draft: _Draft, specs_hash: str) -> Sample:
        results = tuple(
            _result(each.property, each.value, each.censored, each.flags) for each in draft.values.values()
        )
        place = self.file if draft.sheet == self.file else f"{self.file}, sheet {draft.sheet}"
        rows = f"row {draft.rows[0]}" if len(draft.rows) == 1 else f"rows {draft.rows[0]}-{draft.rows[-1]}"
        return Sample(
            id=sample_id(self.system, draft.point, draft.at, results),
            system=self.system,
            at=draft.at,
            by=draft.by,
            recorded_at=self.now,
            point=draft.point,
            specs_hash=specs_hash,
            source="import",
            note="; ".join((f"{place}, {rows}", *draft.remarks)),
            results=results,
        )


@lru_cache(maxsize=20_000)
def _result(property: str, value: float, censored: Literal["", "<", ">"], flags: tuple[str, ...]) -> Result:
    """One result; the same few values come back row after row, and a frozen one can be shared."""
    return Result(property=property, value=value, censored=censored, flags=flags)


def sample_id(system: str, point: str, at: datetime, results: Iterable[Result]) -> str:
    """The id of an imported sample: the same system, point, time and values give the same id anywhere.

    Who imported it, when, and from which file and row is left out, so that a file read again, or a part of
    it copied into another one, adds nothing.
    """
    content = sorted(f"{result.property}={result.censored}{result.value:.10g}" for result in results)
    return content_id("\n".join((system, point, at.astimezone(UTC).isoformat(), *content)))


def content_id(content: str) -> str:
    """`str(uuid5(NAMESPACE, content))`, by the shorter way that a long file needs."""
    digest = bytearray(hashlib.sha1(NAMESPACE.bytes + content.encode(), usedforsecurity=False).digest()[:16])
    digest[6] = digest[6] & 0x0F | 0x50
    digest[8] = digest[8] & 0x3F | 0x80
    text = digest.hex()
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"
