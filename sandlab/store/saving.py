"""Saving: what a batch of records must satisfy, and its rows written in one transaction."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from operator import itemgetter
from typing import Any, Literal

from sqlalchemy import Column, Connection, Table, select

from sandlab.errors import Problem, RecordRefused
from sandlab.records import Amendment, AnyRecord, Sample
from sandlab.store import schema
from sandlab.store.rows import Row, moment_of, rows_of

Known = Literal["refuse", "skip"]
Rows = dict[Table, list[Row]]
Tell = Callable[[str, int, int], None]
"""Told what is being done, how much of it is done, and how much there is."""

CHUNK = 10_000
LONG = 1_000


def quiet(_what: str, _done: int, _of: int) -> None:
    """Tells nobody."""


def write(
    connection: Connection,
    records: Sequence[AnyRecord],
    texts: Mapping[str, str],
    known: Known,
    tell: Tell = quiet,
) -> int:
    """Write those records that are new, and say how many; raise RecordRefused with every problem found."""
    fresh = _fresh(connection, records, known)
    _insert(connection, {schema.specs: _new_texts(connection, texts)}, lambda _: None)
    steps = [_step(group, tell, len(fresh)) for group in _in_order(fresh)]
    total = sum(len(amendments) + sum(map(len, rows.values())) for rows, amendments in steps)
    told = _Told(tell, total)
    for rows, amendments in steps:
        _refuse([*_missing(connection, rows), *_revised_before(connection, rows)])
        _insert(connection, rows, told)
        # One after the other: each has to follow what is written by then.
        _refuse([problem for amendment in amendments for problem in _amend(connection, amendment, told)])
    return len(fresh)


class _Told:
    """How many rows are written of all; whoever is told may raise, which takes all of them back."""

    def __init__(self, tell: Tell, of: int) -> None:
        self._tell, self._of, self._done = tell, of, 0

    def __call__(self, rows: int) -> None:
        self._done += rows
        self._tell("saving rows", self._done, self._of)


def _in_order(records: Sequence[AnyRecord]) -> list[list[AnyRecord]]:
    """Records in groups of which each can follow those before: a sample comes after what it replaces.

    A sample that is replaced or taken back can no longer be amended, so its amendments stand with it. What
    refers to samples comes with the last of them.
    """
    revising = {one.id: one.revises for one in records if isinstance(one, Sample) and one.revises}

    def depth(sample: str) -> int:
        count, one = 0, sample
        while one in revising and count <= len(revising):
            one, count = revising[one], count + 1
        return count

    last = max(map(depth, revising), default=0)
    groups: list[list[AnyRecord]] = [[] for _ in range(last + 1)]
    for record in records:
        sample = record.sample if isinstance(record, Amendment) else record.id
        groups[depth(sample) if isinstance(record, Sample | Amendment) else last].append(record)
    return groups


def _step(group: Sequence[AnyRecord], tell: Tell, of: int) -> tuple[Rows, list[Amendment]]:
    """A group as rows, and its amendments, which are written one by one: the first correction first."""
    amendments = [record for record in group if isinstance(record, Amendment)]
    rows = _rows((record for record in group if not isinstance(record, Amendment)), tell, of)
    return rows, sorted(amendments, key=lambda one: one.revision)


def found(connection: Connection, column: Column[Any], values: Iterable[str]) -> set[str]:
    """Those of `values` that stand in a column."""
    wanted = list(dict.fromkeys(values))
    there: set[str] = set()
    for start in range(0, len(wanted), CHUNK):
        query = select(column).where(column.in_(wanted[start : start + CHUNK]))
        there.update(connection.execute(query).scalars())
    return there


def _rows(records: Iterable[AnyRecord], tell: Tell = quiet, of: int = 0) -> Rows:
    rows: Rows = defaultdict(list)
    for done, record in enumerate(records):
        if done and done % LONG == 0:
            tell("preparing rows", done, of)
        for table, row in rows_of(record):
            rows[table].append(row)
    return rows


def _insert(connection: Connection, rows: Rows, wrote: Callable[[int], None]) -> None:
    """Write rows, referred-to tables first; in the order of the key, which keeps large batches quick."""
    for table in schema.metadata.sorted_tables:
        batch = rows.get(table, [])
        if table is schema.results:
            batch = sorted(batch, key=lambda row: (row["property"], row["taken_at"], row["sample"]))
        raw = len(batch) >= LONG and connection.dialect.paramstyle == "qmark"
        for start in range(0, len(batch), CHUNK):
            part = batch[start : start + CHUNK]
            if raw:
                _insert_many(connection, table, part)
            else:
                connection.execute(table.insert(), part)
            wrote(len(part))


def _insert_many(connection: Connection, table: Table, batch: Sequence[Row]) -> None:
    """Hand many rows of one form to the driver as they are: preparing each costs more than writing it."""
    names = list(batch[0])
    columns = ", ".join(f'"{name}"' for name in names)
    marks = ", ".join("?" for _ in names)
    order = itemgetter(*names)
    statement = f'INSERT INTO "{table.name}" ({columns}) VALUES ({marks})'
    connection.exec_driver_sql(statement, [order(row) for row in batch])


def _fresh(connection: Connection, records: Sequence[AnyRecord], known: Known) -> list[AnyRecord]:
    """The records whose id is not known; known ones are skipped or refused."""
    ids: dict[type[AnyRecord], list[str]] = defaultdict(list)
    for record in records:
        ids[type(record)].append(record.id)
    seen = {kind: found(connection, schema.TABLES[kind].c.id, of_kind) for kind, of_kind in ids.items()}
    fresh: list[AnyRecord] = []
    problems: list[Problem] = []
    for record in records:
        if record.id not in seen[type(record)]:
            seen[type(record)].add(record.id)
            fresh.append(record)
        elif known == "refuse":
            do = "give a new record an id of its own; a correction names the old one in `revises`"
            problems.append(Problem(_name(record), "a record of this id is saved already", do))
    _refuse(problems)
    return fresh


def _new_texts(connection: Connection, texts: Mapping[str, str]) -> list[Row]:
    """Rows for the spec texts that are not kept yet; a text has to belong to its hash."""
    _refuse(
        Problem(f"specs {key}", "the text does not have this SHA-256", "save the canonical text of the specs")
        for key, text in texts.items()
        if hashlib.sha256(text.encode()).hexdigest() != key
    )
    kept = found(connection, schema.specs.c.hash, texts)
    return [{"hash": key, "text": text} for key, text in texts.items() if key not in kept]


def _missing(connection: Connection, rows: Rows) -> Iterator[Problem]:
    """A problem for every id or hash that a record refers to and that is neither kept nor being saved."""
    for table in schema.TABLES.values():
        for column in (column for column in table.columns if column.foreign_keys):
            target = next(iter(column.foreign_keys)).column
            wanted = {row[column.name] for row in rows.get(table, ())} - {None}
            wanted -= {row[target.name] for row in rows.get(target.table, ())}
            for value in sorted(wanted - found(connection, target, wanted)):
                do = "save it first, or together with this record"
                yield Problem(f"{table.name}, {column.name}", f"{value} is not in {target.table.name}", do)


def _revised_before(connection: Connection, rows: Rows) -> Iterator[Problem]:
    """A problem for every record that somebody else has corrected since it was read."""
    for table in set(schema.TABLES.values()) - {schema.amendments}:
        columns = table.columns
        wanted = [row["revises"] for row in rows.get(table, ()) if row["revises"]]
        query = select(columns.revises, columns.by, columns.recorded_at).where(columns.revises.in_(wanted))
        for old, by, recorded_at in connection.execute(query) if wanted else ():
            what = f"was corrected already, by {by} at {_moment(recorded_at)}"
            yield Problem(
                f"{table.name} {old}", what, "nothing was saved; read it again, then correct that one"
            )
        for old in {old for old in wanted if wanted.count(old) > 1}:
            yield Problem(f"{table.name} {old}", "is corrected twice in this save", "keep one of the two")


def _amend(connection: Connection, amendment: Amendment, wrote: Callable[[int], None]) -> list[Problem]:
    """Write an amendment if it fits its sample and follows the last revision, else say why not."""
    rows = _rows([amendment])
    problems = [*_missing(connection, rows), *_unfit(connection, amendment)]
    if not problems:
        _insert(connection, rows, lambda _: None)
        wrote(1)
    return problems


def _unfit(connection: Connection, amendment: Amendment) -> Iterator[Problem]:
    """What keeps an amendment from its sample, or from following the last revision."""
    where = f"{amendment.result.property} of the sample taken at {_moment(amendment.at_us)}"
    samples, results = schema.samples.c, schema.results.c
    query = select(schema.samples).where(
        (samples.id == amendment.sample) | (samples.revises == amendment.sample)
    )
    for row in connection.execute(query):
        if row.revises == amendment.sample or row.voided:
            what = f"the sample was replaced or voided by {row.by} at {_moment(row.recorded_at)}"
            yield Problem(where, what, "read the samples again, then amend the one in force")
        elif (row.system, row.point, row.at) != (amendment.system, amendment.point, amendment.at_us):
            what = f"the sample is of {row.system}, {row.point}, {_moment(row.at)}"
            yield Problem(where, what, "give the amendment the system, point and time of its sample")
    query = select(results.revision, results.by, results.recorded_at).where(
        results.system == amendment.system,
        results.property == amendment.result.property,
        results.taken_at == amendment.at_us,
        results.sample == amendment.sample,
    )
    last = connection.execute(query.order_by(results.revision.desc())).first()
    follows = 0 if last is None else last.revision + 1
    if last is not None and amendment.revision < follows:
        what = f"{last.by} recorded revision {last.revision} at {_moment(last.recorded_at)}, not seen here"
        yield Problem(where, what, f"read the value again, then correct it as revision {follows}")
    elif amendment.revision != follows:
        yield Problem(where, f"revision {amendment.revision} does not follow", f"the next one is {follows}")


def _refuse(problems: Iterable[Problem]) -> None:
    collected = tuple(problems)
    if collected:
        raise RecordRefused(collected)


def _name(record: AnyRecord) -> str:
    return f"{type(record).__name__.lower()} {record.id}"


def _moment(microseconds: int) -> str:
    return f"{moment_of(microseconds):%Y-%m-%d %H:%M} UTC"
