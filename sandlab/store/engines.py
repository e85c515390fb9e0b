"""Connections: one way to write and one to read, for an SQLite file and for a PostgreSQL server."""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, QueuePool, create_engine, event

from sandlab.errors import Problem, StoreError

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
    # A reader may write to the file only what a crash left undone: SQLite rolls that back on the next look.
    mode = "ro" if readonly else "rw"
    opened = path.stat()

    def still_there() -> None:
        """Connections go on with the file they opened, even when another one was put in its place."""
        if not os.path.samestat(opened, path.stat()):
            what = "another file was put in its place while it was open; nothing more was read or saved"
            raise StoreError(Problem(str(path), what, "quit and open sandlab again"))

    writer = _sqlite_engine(lambda: _writing(_connect(path, mode)), "BEGIN IMMEDIATE")
    reader = _sqlite_engine(lambda: _reading(_connect(path, mode)), "BEGIN")
    event.listen(writer, "begin", lambda _: still_there(), insert=True)
    poll = _reading(_connect(path, mode))
    lock = threading.Lock()

    def change_number() -> int:
        still_there()
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


def _sqlite_engine(connect: Callable[[], sqlite3.Connection], begin: str) -> Engine:
    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool)

    def start(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    event.listen(engine, "begin", start)
    return engine


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    """A connection that begins and commits nothing by itself, and waits for others."""
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=BUSY_SECONDS,
        isolation_level=None,
        check_same_thread=False,
    )
    connection.execute("PRAGMA foreign_keys = ON")
    return connection


def _reading(connection: sqlite3.Connection) -> sqlite3.Connection:
    connection.execute("PRAGMA query_only = ON")
    return connection


def _writing(connection: sqlite3.Connection) -> sqlite3.Connection:
    """Through to the disk at every commit."""
    journal = "WAL" if write_ahead_is_safe(sqlite3.sqlite_version_info) else "TRUNCATE"
    connection.execute(f"PRAGMA journal_mode = {journal}")
    connection.execute("PRAGMA synchronous = FULL")
    return connection
