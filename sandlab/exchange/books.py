"""Rows of batches, production and receipts as records; what cannot be taken goes to the tally."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from sandlab.errors import InputError, Problem, nearest
from sandlab.exchange.gather import content_id
from sandlab.exchange.grid import letters
from sandlab.exchange.layout import BlockLayout, plain
from sandlab.exchange.mapping import Mapping
from sandlab.exchange.moments import in_zone, read_date, read_time
from sandlab.exchange.notes import BookRecord, RowNote, Tally
from sandlab.exchange.origin import CellRefused, Row, names_by_text, taken_at, taken_by
from sandlab.exchange.targets import Kind, targets
from sandlab.exchange.values import judge
from sandlab.records import Batch, Production, Receipt
from sandlab.specs import Specs


@dataclass(frozen=True, slots=True)
class BookRow:
    """One record and the row it stands in."""

    sheet: str
    row: int
    record: BookRecord


def key_of(record: BookRecord) -> tuple[object, ...]:
    """What two records of one kind may not both have: another batch of that time and number, and so on."""
    if isinstance(record, Batch):
        return record.at, record.number
    if isinstance(record, Production):
        return record.at, record.job
    return record.at, record.material, record.lot


def content_of(record: BookRecord) -> dict[str, Any]:
    """What a record says, without who wrote it down and when."""
    return record.model_dump(exclude={"id", "recorded_at", "by", "recommendation", "revises", "reason"})


class BookReader:
    """Reads rows of one kind other than tests."""

    def __init__(
        self, mapping: Mapping, specs: Specs, zone: ZoneInfo, now: datetime, by: str, tally: Tally
    ) -> None:
        self.mapping, self.specs, self.zone, self.now = mapping, specs, zone, now
        self.by, self.tally = by, tally
        self._names = names_by_text(mapping)
        self._absent = {"", *(text.casefold() for text in mapping.not_measured)}
        self._first: dict[tuple[object, ...], tuple[str, int]] = {}

    def take(self, row: Row, block: BlockLayout, kind: Kind) -> BookRow | None:
        """The record of one row; None when it was refused or says again what an earlier row said."""
        try:
            record = self._record(row, block, kind)
        except CellRefused as error:
            what, place = f"{error.problem.what}: the row is left out", letters(error.index)
            self.tally.notes.append(
                RowNote(row.sheet.name, row.number, place, error.text, what, error.problem.do, "refused")
            )
            return None
        key = (kind, *key_of(record))
        known = self._first.setdefault(key, (record.id, row.number))
        if known[1] == row.number:
            return BookRow(row.sheet.name, row.number, record)
        if known[0] == record.id:
            self.tally.duplicates += 1
            what, do = f"says the same as row {known[1]}", ""
        else:
            what, do = f"contradicts row {known[1]}: the row is left out", "see which is right"
        severity = "refused" if do else "skipped"
        self.tally.notes.append(RowNote(row.sheet.name, row.number, "", "", what, do, severity))  # type: ignore[arg-type]
        return None

    def _record(self, row: Row, block: BlockLayout, kind: Kind) -> BookRecord:
        at = self._instant(taken_at(row, block, self.mapping))
        if at > self.now:
            raise self._refused(
                row, block.date, "is still to come", "correct the date, or this computer's clock"
            )
        by, _ = taken_by(row, block, self._names, self.by)
        read = dict(self._read(row, block, kind, at))
        make: Callable[..., dict[str, Any]] = {
            "batches": self._batch,
            "production": self._production,
            "receipts": self._receipt,
        }[kind]
        fields = make(row, block, read)
        models: dict[str, type[BookRecord]] = {
            "batches": Batch,
            "production": Production,
            "receipts": Receipt,
        }
        system = self.mapping.system
        said = "\n".join(f"{name}={fields[name]}" for name in sorted(fields))
        id = content_id("\n".join((kind, system, at.isoformat(), said)))
        try:
            return models[kind](id=id, system=system, at=at, by=by, recorded_at=self.now, **fields)
        except ValidationError as error:
            message = error.errors()[0]["msg"]
            raise self._refused(row, block.date, message, "correct the row") from error

    def _instant(self, when: datetime) -> datetime:
        return when.astimezone(UTC) if when.tzinfo else in_zone(when, self.zone)[0].at

    def _refused(self, row: Row, index: int, what: str, do: str) -> CellRefused:
        return CellRefused(index, row.text(index), Problem("", f"'{row.text(index)}' {what}", do))

    def _read(self, row: Row, block: BlockLayout, kind: Kind, at: datetime) -> Iterator[tuple[str, Any]]:
        """What stands in each column that holds something."""
        known = targets(kind, self.specs, self.mapping.system)
        for measured in block.wide:
            text = row.text(measured.index)
            target = known[measured.property]
            if not text:
                continue
            if target.form == "text":
                yield measured.property, text
            elif target.form == "time":
                yield measured.property, self._later(row, measured.index, at)
            else:
                marks = self.mapping.decimal_marks
                judged = judge(text, measured, target, marks=marks, absent=self._absent)
                if judged.problem is not None:
                    raise CellRefused(measured.index, text, judged.problem)
                if judged.doubt:
                    do = "compare with the sheet on paper"
                    self.tally.notes.append(row.note("doubtful", measured.index, judged.doubt, do))
                if judged.value is not None:
                    yield measured.property, judged.value

    def _later(self, row: Row, index: int, at: datetime) -> datetime:
        """A later time: written in full, or as a time of day after `at`."""
        text = row.text(index)
        try:
            stamp = read_date(text, self.mapping.dates)
            if stamp.aware is not None:
                return stamp.aware.astimezone(UTC)
            if stamp.day is not None and stamp.clock is not None:
                return self._instant(datetime.combine(stamp.day, stamp.clock))
        except InputError:
            pass
        try:
            clock = read_time(text, self.mapping.times).clock
        except InputError as error:
            raise CellRefused(index, text, error.problems[0]) from error
        start = at.astimezone(self.zone)
        end = datetime.combine(start.date(), clock or start.time())
        return self._instant(end if end > start.replace(tzinfo=None) else end + timedelta(days=1))

    def _needed(self, row: Row, block: BlockLayout, read: dict[str, Any], *names: str) -> None:
        for name in names:
            if name not in read:
                index = next((one.index for one in block.wide if one.property == name), block.date)
                problem = Problem("", f"{name} is missing", "write it, or map its column")
                raise CellRefused(index, row.text(index), problem)

    def _batch(self, row: Row, block: BlockLayout, read: dict[str, Any]) -> dict[str, Any]:
        self._needed(row, block, read, "number")
        sand = self.specs.systems[self.mapping.system]
        return {
            "number": int(read["number"]),
            "return_sand_kg": read.get("return_sand_kg", sand.muller.batch_kg),
            "added_kg": {name: read[f"{name}_kg"] for name in sand.feeders if f"{name}_kg" in read},
        }

    def _production(self, row: Row, block: BlockLayout, read: dict[str, Any]) -> dict[str, Any]:
        self._needed(row, block, read, "until", "metal_t")
        loop = self.specs.systems[self.mapping.system].loop
        return {"job": "", "sand_to_metal": loop.sand_to_metal, "core_sand_t": 0.0} | read

    def _receipt(self, row: Row, block: BlockLayout, read: dict[str, Any]) -> dict[str, Any]:
        self._needed(row, block, read, "material", "kg")
        names = {plain(key.replace("_", " ")): key for key in self.specs.materials}
        names |= {plain(key): key for key in self.specs.materials}
        names |= {plain(entry.label): key for key, entry in self.specs.materials.items()}
        written = read["material"]
        if plain(written) not in names:
            index = next(one.index for one in block.wide if one.property == "material")
            problem = Problem(
                "", f"'{written}' is not a known material", nearest(plain(written), list(names))
            )
            raise CellRefused(index, written, problem)
        assay = {name.removesuffix("_assay"): read[name] for name in read if name.endswith("_assay")}
        return {
            "material": names[plain(written)],
            "lot": read.get("lot", ""),
            "kg": read["kg"],
            "assay": assay,
        }
