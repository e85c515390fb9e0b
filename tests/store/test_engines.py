"""How connections are set up: through to the disk, foreign keys on, no write-ahead log where it is unsafe."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from sandlab.store import Store
from sandlab.store.engines import sqlite_engines, write_ahead_is_safe


@pytest.mark.parametrize(
    ("version", "safe"),
    [
        ((3, 40, 1), False),
        ((3, 44, 5), False),
        ((3, 44, 6), True),
        ((3, 45, 0), False),
        ((3, 50, 6), False),
        ((3, 50, 7), True),
        ((3, 51, 2), False),
        ((3, 51, 3), True),
        ((3, 52, 0), True),
    ],
)
def test_a_write_ahead_log_only_where_its_race_is_fixed(version: tuple[int, int, int], safe: bool) -> None:
    """Versions as sqlite.org, wal.html lists them."""
    assert write_ahead_is_safe(version) is safe


def test_a_commit_goes_through_to_the_disk(file_store: Store, path: Path) -> None:
    """Settings of the connection that writes."""
    opened = sqlite_engines(path, readonly=False)
    with opened.writer.begin() as connection:
        journal = "wal" if write_ahead_is_safe(sqlite3.sqlite_version_info) else "truncate"
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == journal
        full = 2
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == full
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
    opened.close()


def test_a_connection_that_reads_cannot_write(file_store: Store, path: Path) -> None:
    """Whatever it is asked."""
    opened = sqlite_engines(path, readonly=False)
    with opened.reader.begin() as connection, pytest.raises(Exception, match="attempt to write a readonly"):
        connection.exec_driver_sql("INSERT INTO specs VALUES ('a', 'b')")
    opened.close()


def test_a_reader_lets_go_at_once(file_store: Store, path: Path) -> None:
    """After a read no lock is left that could hold a writer up."""
    file_store.results("main", "moisture")
    file_store.change_number()
    raw = sqlite3.connect(path, isolation_level=None, timeout=0)
    raw.execute("BEGIN EXCLUSIVE")
    raw.execute("ROLLBACK")
    raw.close()
