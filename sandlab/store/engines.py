"""Connections: one way to write and one to read, for an SQLite file and for a PostgreSQL server."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, QueuePool, create_engine, event

BUSY_SECONDS = 10.0
# Any number that every writer of a PostgreSQL database agrees on.
_WRITERS_LOCK = 5_105_110_100


@dataclass(frozen=True, slots=True)
class Engines:
    """How to write, how to read, a number that changes with every commit, and how to let go."""

    writer: Engine
    reader: Engine
    change_number: Callable[[], int]
    close: Callable[[], None]


def sqlite_engines(path: Path, *, readonly: bool) -> Engines:
    """Engines for an SQLite file: writers take the write lock at once, readers none before they read."""
    writer = _sqlite_engine(path, "BEGIN IMMEDIATE", writing=not readonly)
    reader = _sqlite_engine(path, "BEGIN", writing=False)
    poll = _connect(path, writing=False)
    lock = threading.Lock()

    def change_number() -> int:
        with lock:
            return int(poll.execute("PRAGMA data_version").fetchone()[0])

    def close() -> None:
        writer.dispose()
        reader.dispose()
        poll.close()

    return Engines(writer, reader, change_number, close)


def postgresql_engines(url: URL) -> Engines:
    """Engines for PostgreSQL: one writer at a time, as with SQLite; each read sees one state of the data."""
    writer = create_engine(url)
    reader = create_engine(url, isolation_level="REPEATABLE READ")
    event.listen(
        writer, "begin", lambda at: at.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITERS_LOCK})")
    )

    def change_number() -> int:
        # The snapshot names the transactions under way and the newest one done: any commit alters it.
        with reader.connect() as connection:
            snapshot = "SELECT hashtextextended(pg_current_snapshot()::text, 0)"
            return int(connection.exec_driver_sql(snapshot).scalar_one())

    def close() -> None:
        writer.dispose()
        reader.dispose()

    return Engines(writer, reader, change_number, close)


def write_ahead_is_safe(version: tuple[int, ...]) -> bool:
    """Whether this SQLite is free of the rare race of several connections on a write-ahead log.

    Fixed in 3.51.3 and in the patch releases 3.50.7 and 3.44.6 (sqlite.org, wal.html).
    """
    return version >= (3, 51, 3) or (3, 50, 7) <= version < (3, 51) or (3, 44, 6) <= version < (3, 45)


def _sqlite_engine(path: Path, begin: str, *, writing: bool) -> Engine:
    engine = create_engine("sqlite://", creator=lambda: _connect(path, writing=writing), poolclass=QueuePool)

    def start(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    event.listen(engine, "begin", start)
    return engine


def _connect(path: Path, *, writing: bool) -> sqlite3.Connection:
    """A connection that commits nothing by itself and writes through to the disk."""
    mode = "rwc" if writing else "ro"
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=BUSY_SECONDS,
        isolation_level=None,
        check_same_thread=False,
    )
    connection.execute("PRAGMA foreign_keys = ON")
    if writing:
        journal = "WAL" if write_ahead_is_safe(sqlite3.sqlite_version_info) else "TRUNCATE"
        connection.execute(f"PRAGMA journal_mode = {journal}")
        connection.execute("PRAGMA synchronous = FULL")
    return connection
