"""The store: every call is one transaction, and a save returns only when it is on the disk."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING, TypeVar

from sqlalchemy import Connection, func, select

from sandlab.errors import Problem, StoreError
from sandlab.records import AnyRecord, Reading, Record, Sample
from sandlab.store import in_force, reading, saving, schema
from sandlab.store.engines import Engines
from sandlab.store.failures import told
from sandlab.store.rows import moment_of
from sandlab.store.spans import Span

if TYPE_CHECKING:
    import polars as pl

R = TypeVar("R", bound=Record)
ALL_KINDS: tuple[type[Record], ...] = tuple(schema.TABLES)


class Store:
    """All records of a plant, append-only; safe to use from several threads and several processes."""

    def __init__(self, where: str, engines: Engines, *, readonly: bool) -> None:
        self._where = where
        self._engines = engines
        self._readonly = readonly

    def close(self) -> None:
        """Let go of the file or server."""
        self._engines.close()

    def save(
        self,
        records: Sequence[AnyRecord],
        *,
        specs_texts: Mapping[str, str] | None = None,
        known: saving.Known = "refuse",
        tell: saving.Tell = saving.quiet,
    ) -> int:
        """Write all records or none, and say how many were new.

        `specs_texts` maps a specs hash to its canonical text; each is kept once. A record whose id is saved
        already is refused, or left as it is with `known="skip"` (imports). `tell` hears how many rows are
        written of all, and may raise: then nothing is saved.
        Raises RecordRefused or StoreError.
        """
        if self._readonly:
            raise StoreError(Problem(self._where, "is open for reading only", "open it for writing"))
        with told(self._where), self._engines.writer.begin() as connection:
            return saving.write(connection, records, specs_texts or {}, known, tell)

    def known_ids(self, ids: Iterable[str], *, kinds: Sequence[type[Record]] = ALL_KINDS) -> frozenset[str]:
        """Those of `ids` under which a record of one of these kinds is saved."""
        wanted, tables = list(ids), [schema.TABLES[kind] for kind in kinds]
        with self._read() as connection:
            found = (saving.found(connection, table.c.id, wanted) for table in tables)
            return frozenset().union(*found)

    def results(
        self,
        system: str,
        property: str,
        *,
        since: datetime | None = None,
        until: datetime | None = None,
        point: str | None = None,
        last: int | None = None,
    ) -> pl.DataFrame:
        """The values in force of one property, sorted by time; `since` and `until` are both included.

        Columns: taken_at, value, sample, point, method, censored, flags (list of texts), revision, by,
        known_at (when it was recorded, unless the result says otherwise).
        """
        frame = self.results_of(system, (property,), since=since, until=until, point=point, last=last)
        return frame.drop("property")

    def results_of(
        self,
        system: str,
        properties: Sequence[str],
        *,
        since: datetime | None = None,
        until: datetime | None = None,
        point: str | None = None,
        last: int | None = None,
    ) -> pl.DataFrame:
        """As `results`, for several properties with a column `property`; `last` counts for each of them."""
        from sandlab.store import history

        with self._read() as connection:
            return history.results(connection, system, properties, Span(since, until, last), point)

    def newest(self, system: str, property: str, point: str) -> tuple[float, datetime, str] | None:
        """Value, time and censoring of the newest result of a property at a point, without a frame."""
        with self._read() as connection:
            return in_force.newest(connection, system, property, point)

    def revisions(self, sample: str, property: str) -> pl.DataFrame:
        """Every value that one property of a sample has had, oldest first; a void has none."""
        from sandlab.store import history

        with self._read() as connection:
            return history.revisions(connection, sample, property)

    def readings(self, sample: str, property: str, revision: int | None = None) -> tuple[Reading, ...]:
        """The raw readings behind a value, of one revision or of the last one."""
        with self._read() as connection:
            return reading.readings(connection, sample, property, revision)

    def readings_of(self, property: str, revisions: Mapping[str, int]) -> dict[str, tuple[Reading, ...]]:
        """The raw readings behind one property of many samples, each in the revision named for it."""
        with self._read() as connection:
            return reading.readings_of(connection, property, revisions)

    def sample(self, id: str) -> Sample | None:
        """One sample with its results in force, sorted by property."""
        return self.record(Sample, id)

    def samples(
        self,
        system: str,
        *,
        since: datetime | None = None,
        until: datetime | None = None,
        last: int | None = None,
    ) -> tuple[Sample, ...]:
        """Samples with their results in force, newest last."""
        return self.records(Sample, system, since=since, until=until, last=last)

    def records(
        self,
        kind: type[R],
        system: str,
        *,
        since: datetime | None = None,
        until: datetime | None = None,
        last: int | None = None,
        revised: bool = False,
    ) -> tuple[R, ...]:
        """The records of one kind in force, newest last; with `revised` also replaced ones and voids."""
        with self._read() as connection:
            return reading.records(connection, kind, system, Span(since, until, last), revised=revised)

    def record(self, kind: type[R], id: str) -> R | None:
        """One record by its id, whether or not a later one revises it."""
        with self._read() as connection:
            return reading.record(connection, kind, id)

    def frame(
        self,
        kind: type[Record],
        system: str,
        *,
        since: datetime | None = None,
        until: datetime | None = None,
        last: int | None = None,
    ) -> pl.DataFrame:
        """The records of one kind in force, sorted by time; a batch has a row for each material."""
        from sandlab.store import history

        with self._read() as connection:
            return history.records(connection, kind, system, Span(since, until, last))

    def table(
        self, name: str, system: str, *, since: datetime | None = None, until: datetime | None = None
    ) -> pl.DataFrame:
        """Every row of one table as stored, with replaced ones and voids; mappings and lists as JSON text."""
        from sandlab.store import tables

        with self._read() as connection:
            return tables.table(connection, name, system, Span(since, until))

    def specs_text(self, hash: str) -> str | None:
        """The canonical specs text of a hash."""
        column = schema.specs.c
        with self._read() as connection:
            return connection.execute(select(column.text).where(column.hash == hash)).scalar()

    def newest_specs_text(self) -> str | None:
        """The canonical specs text under which the newest sample was recorded."""
        newest = schema.samples.c
        query = select(schema.specs.c.text).join(schema.samples, schema.specs.c.hash == newest.specs_hash)
        with self._read() as connection:
            return connection.execute(query.order_by(newest.recorded_at.desc()).limit(1)).scalar()

    def latest_recorded_at(self, system: str) -> datetime | None:
        """When the last sample was recorded, by the clock of whoever recorded it."""
        column = schema.samples.c
        with self._read() as connection:
            query = select(func.max(column.recorded_at)).where(column.system == system)
            last = connection.execute(query).scalar()
        return None if last is None else moment_of(last)

    def change_number(self) -> int:
        """A number that differs from the last one asked for when anything was saved since, by anybody."""
        with told(self._where):
            return self._engines.change_number()

    @contextmanager
    def _read(self) -> Iterator[Connection]:
        with told(self._where), self._engines.reader.begin() as connection:
            yield connection
