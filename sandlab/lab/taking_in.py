"""An export of our own taken in: its records come as they are, known by their ids; nothing is overwritten."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Protocol

from sandlab.errors import ImportRefused, Problem, nearest
from sandlab.exchange import Counts, ImportPlan, RowNote, Tell
from sandlab.lab.exporting import NAMES, Frames
from sandlab.lab.matching import SEE, Matched, told_apart
from sandlab.lab.opening import Lab
from sandlab.lab.periods import Period
from sandlab.lab.showing import clock_text
from sandlab.records import (
    Acknowledgement,
    Amendment,
    AnyRecord,
    Batch,
    Comment,
    NoteRead,
    Override,
    Recommendation,
    Record,
    Release,
    Sample,
    StepDone,
)
from sandlab.reporting.taking_back import TakenBack, read_export, records_of
from sandlab.store import KINDS

REFERS: dict[type[Record], str] = {
    Amendment: "sample",
    Comment: "sample",
    StepDone: "sample",
    Batch: "recommendation",
    Release: "recommendation",
    Acknowledgement: "release",
    Override: "release",
    NoteRead: "note",
}
OF_SPECS = (Sample, Amendment, Recommendation)
LONGER = "export a longer period, or take in the export that holds it first"


class Note(Protocol):
    """Notes why a record cannot come in: against what is recorded, else refused."""

    def __call__(self, one: AnyRecord, what: str, *, conflict: bool = True) -> None: ...


@dataclass(frozen=True, slots=True)
class Beside:
    """What the plant holds beside an export: its records by id, what they replace, the last revisions."""

    records: Mapping[str, AnyRecord]
    replaced: Mapping[str, AnyRecord]
    revisions: dict[tuple[str, str], int] = field(default_factory=lambda: defaultdict(lambda: -1))


def take_in(lab: Lab, path: Path, tell: Tell) -> tuple[ImportPlan, Matched, dict[str, str]]:
    """What an export would add, with the spec texts its records name; raises ImportRefused."""
    tell("reading the export", 0, 1)
    back = read_export(path, KINDS)
    _require_fit(lab, path, back)
    tell("comparing with what is recorded", 0, 1)
    lab = replace(lab, system=back.records[0].system)
    places = _places(path, back.records)
    beside = _beside(lab, back.records)
    known, notes = _told(lab, back, beside, places)
    refused = [one for one in notes.values() if one.severity == "refused"]
    conflicts = [one for one in notes.values() if one.severity == "conflict"]
    samples = tuple(one for one in back.records if isinstance(one, Sample))
    results = [result for one in samples for result in one.results]
    counts = Counts(
        rows=len(back.records),
        samples=len(samples),
        results=len(results),
        censored=sum(one.censored != "" for one in results),
        doubtful=0,
        refused=len(refused),
        skipped=0,
        duplicates=0,
        not_measured=0,
        records=len(back.records) - len(samples),
    )
    others = tuple(one for one in back.records if not isinstance(one, Sample))
    in_time = tuple(sorted(samples, key=lambda one: one.at))
    plan = ImportPlan(path.name, lab.specs.zone, in_time, tuple(refused), counts, others, places)
    new = [one for one in back.records if one.id not in known and one.id not in notes]
    return (
        plan,
        Matched(
            tuple(one for one in new if isinstance(one, Sample)),
            tuple(one for one in new if not isinstance(one, Sample)),
            len(known),
            tuple(conflicts),
        ),
        back.specs_texts,
    )


def _require_fit(lab: Lab, path: Path, back: TakenBack) -> None:
    """Raise with everything that keeps the whole export from this plant."""
    problems: list[Problem] = []
    if not back.records:
        problems.append(Problem(path.name, "holds no records", "choose another export"))
    for name in dict.fromkeys(one.system for one in back.records):
        if name not in lab.specs.systems:
            what = f"is of the sand system '{name}', which this plant has not"
            problems.append(Problem(path.name, what, nearest(name, list(lab.specs.systems))))
    for key, unit in sorted(back.units.items()):
        entry = lab.specs.properties.get(key)
        if entry is None:
            do = "describe it in properties.toml first"
            problems.append(Problem(key, "is not a property of this plant's catalogue", do))
        elif unit != entry.unit:
            what = f"stands in '{unit}' in the export, in '{entry.unit}' in this plant's catalogue"
            problems.append(Problem(key, what, "give both catalogues the same unit"))
    for hash_, text in back.specs_texts.items():
        if hashlib.sha256(text.encode()).hexdigest() != hash_:
            problems.append(Problem(f"specs {hash_}", "the text does not have this SHA-256", "export again"))
    if problems:
        raise ImportRefused(problems)


def _places(path: Path, records: Sequence[AnyRecord]) -> dict[str, tuple[str, int]]:
    """Table and row of each record; a workbook has its units under the heads."""
    tables = {kind: name for name, kind in KINDS.items()}
    rows: dict[str, int] = defaultdict(lambda: 2 if path.suffix == ".xlsx" else 1)
    found = {}
    for one in records:
        name = tables[type(one)]
        rows[name] += 1
        found[one.id] = name, rows[name]
    return found


def _beside(lab: Lab, records: Sequence[AnyRecord]) -> Beside:
    """The records of the plant in the export's time, read the way it is read."""
    times = [one.at for one in records]
    frames = Frames(lab, Period(min(times), max(times)))
    tables = {name: frames.named(name) for name in NAMES if name not in ("tests", "specs")}
    ours = records_of(tables, KINDS)
    replaced = {one.revises: one for one in ours if one.revises and not isinstance(one, Amendment)}
    found = Beside({one.id: one for one in ours}, replaced)
    for sample, key, revision in tables["results"].select("sample", "property", "revision").iter_rows():
        found.revisions[sample, key] = max(revision, found.revisions[sample, key])
    return found


def _told(
    lab: Lab, back: TakenBack, beside: Beside, places: Mapping[str, tuple[str, int]]
) -> tuple[set[str], dict[str, RowNote]]:
    """The ids that are recorded word for word, and a note on every other record that cannot come in."""
    known: set[str] = set()
    notes: dict[str, RowNote] = {}

    def note(one: AnyRecord, what: str, *, conflict: bool = True) -> None:
        sheet, row = places[one.id]
        at = clock_text(one.at, lab.zone, lab.now())
        words = f"{type(one).__name__} of {at}: {what}; it is left out"
        severity, do = ("conflict", SEE) if conflict else ("refused", LONGER)
        notes[one.id] = RowNote(sheet, row, "", "", words, do, severity)  # type: ignore[arg-type]

    elsewhere = lab.store.known_ids({one.id for one in back.records} - set(beside.records))
    for one in back.records:
        ours = beside.records.get(one.id)
        if ours == one:
            known.add(one.id)
        elif ours is not None:
            note(one, f"{_difference(lab, one, ours)} ({ours.by})")
        elif one.id in elsewhere:
            note(one, "its id is recorded with another time")
        elif other := None if isinstance(one, Amendment) else beside.replaced.get(one.revises or ""):
            note(one, f"what it replaces was corrected already by {other.by}")
    _left_out_with(lab, back, known, notes, note)
    _amendments(back, beside, known, notes, note)
    return known, notes


def _left_out_with(
    lab: Lab, back: TakenBack, known: set[str], notes: Mapping[str, RowNote], note: Note
) -> None:
    """Records that refer to something that is neither here nor comes in; they take others along."""
    waiting = [one for one in back.records if one.id not in known and one.id not in notes]
    there = lab.store.known_ids({name for one in waiting for name in _references(one)})
    hashes = {one.specs_hash for one in waiting if isinstance(one, OF_SPECS)} - set(back.specs_texts)
    lost_texts = {hash_ for hash_ in hashes if lab.store.specs_text(hash_) is None}
    coming = {one.id for one in waiting}
    while True:
        lost: list[AnyRecord] = []
        for one in waiting:
            names = list(_references(one))
            if any(name in notes for name in names):
                note(one, "it belongs to a record that is left out")
                lost.append(one)
            elif any(name not in coming and name not in there for name in names):
                note(one, "it belongs to a record that is neither here nor in the export", conflict=False)
                lost.append(one)
            elif isinstance(one, OF_SPECS) and one.specs_hash in lost_texts:
                note(one, "the specs it was made under are neither here nor in the export", conflict=False)
                lost.append(one)
        if not lost:
            return
        coming -= {one.id for one in lost}
        waiting = [one for one in waiting if one.id in coming]


def _references(one: AnyRecord) -> Iterator[str]:
    """The ids of records without which this one cannot be written."""
    named = getattr(one, REFERS[type(one)]) if type(one) in REFERS else None
    if named:
        yield named
    if one.revises and not isinstance(one, Amendment):
        yield one.revises


def _amendments(
    back: TakenBack, beside: Beside, known: set[str], notes: Mapping[str, RowNote], note: Note
) -> None:
    """Corrections that do not follow the last value here, which was corrected here too, and those after."""
    fresh = [one for one in back.records if one.id not in known and one.id not in notes]
    last = beside.revisions
    for one in fresh:
        if isinstance(one, Sample):
            last.update({(one.id, result.property): 0 for result in one.results})
    amendments = [one for one in fresh if isinstance(one, Amendment)]
    parted: set[tuple[str, str]] = set()
    for one in sorted(amendments, key=lambda each: each.revision):
        key = one.sample, one.result.property
        if one.sample in beside.replaced:
            note(one, f"its sample was replaced or voided by {beside.replaced[one.sample].by}")
        elif key in parted or one.revision != last[key] + 1:
            parted.add(key)
            note(one, f"{one.result.property} has been corrected here otherwise")
        else:
            last[key] = one.revision


def _difference(lab: Lab, one: AnyRecord, ours: AnyRecord) -> str:
    """What two records of one id say differently."""
    mine, theirs = one.model_dump(), ours.model_dump()
    names = [name for name in mine if mine[name] != theirs.get(name)]
    if type(one) is not type(ours):
        return f"a {type(ours).__name__} of its id is recorded"
    if isinstance(one, Sample) and isinstance(ours, Sample) and names == ["results"]:
        values = [{result.property: result for result in each.results} for each in (one, ours)]
        said = []
        for key in sorted(set(values[0]) | set(values[1])):
            new, old = (
                (each[key].value, each[key].censored) if key in each else (None, "") for each in values
            )
            if new != old:
                shown, recorded = told_apart(lab, key, new, old)
                said.append(f"{key} {recorded} is recorded, not {shown}")
        return ", ".join(said) or "its results differ in what they rest on"
    return ", ".join(f"{name} {theirs[name]} is recorded, not {mine[name]}" for name in names)
