"""Stores to test on: an SQLite file, and a database on a PostgreSQL server where one is installed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest

from sandlab.store import Store, open_store
from tests.store import server


@pytest.fixture(scope="session")
def postgresql() -> Iterator[str]:
    """The socket folder of a running server; skips where none is installed."""
    why_not = server.missing()
    if why_not:
        pytest.skip(why_not)
    with server.running() as folder:
        yield folder


@pytest.fixture
def empty_database(postgresql: str) -> str:
    """The address of a fresh database on the server."""
    import psycopg

    name = f"t{uuid4().hex}"
    with psycopg.connect(host=postgresql, user="sandlab", dbname="postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return f"postgresql+psycopg://sandlab@/{name}?host={postgresql}"


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a store can be opened: tests that ask for it run on both kinds of database."""
    if request.param == "sqlite":
        return str(tmp_path / "records.sqlite")
    return str(request.getfixturevalue("empty_database"))


@pytest.fixture
def store(place: str) -> Iterator[Store]:
    """An empty store, on both kinds of database."""
    opened = open_store(place)
    yield opened
    opened.close()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where an SQLite file can be made."""
    return tmp_path / "records.sqlite"


@pytest.fixture
def file_store(path: Path) -> Iterator[Store]:
    """An empty store in an SQLite file."""
    opened = open_store(path)
    yield opened
    opened.close()
