"""Opening a store: the file or server is looked at before anything is written to it."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import URL, Connection, func, inspect, make_url, select
from sqlalchemy.exc import ArgumentError

from sandlab.errors import Problem, StoreError
from sandlab.store import schema, triggers
from sandlab.store.engines import Engines, postgresql_engines, sqlite_engines
from sandlab.store.failures import told
from sandlab.store.places import make_ready
from sandlab.store.store import Store

triggers.guard(schema.metadata)


def open_store(place: Path | str, *, readonly: bool = False) -> Store:
    """Open an SQLite file, made with its folders if it is not there, or the database of an SQLAlchemy URL."""
    with told(str(place)):
        engines, where = _engines(place, readonly=readonly)
        try:
            _prepare(engines, where, readonly=readonly)
        except BaseException:
            engines.close()
            raise
    return Store(where, engines, readonly=readonly)


def _engines(place: Path | str, *, readonly: bool) -> tuple[Engines, str]:
    if isinstance(place, str) and "://" in place:
        try:
            url = make_url(place)
        except ArgumentError as error:
            raise StoreError(Problem(place, "is not a database address", "write dialect://...")) from error
        if url.get_backend_name() == "postgresql":
            return _postgresql(url)
        if url.get_backend_name() != "sqlite" or not url.database:
            raise StoreError(
                Problem(place, "is no kind of database that is known here", "sqlite:// or postgresql://")
            )
        place = url.database
    path = Path(place)
    make_ready(path, readonly=readonly)
    return sqlite_engines(path, readonly=readonly), str(path)


def _postgresql(url: URL) -> tuple[Engines, str]:
    where = url.render_as_string(hide_password=True)
    schema.for_postgresql()
    try:
        return postgresql_engines(url), where
    except ImportError as error:
        raise StoreError(Problem(where, f"{error.name} is not installed", "install psycopg")) from error


def _prepare(engines: Engines, where: str, *, readonly: bool) -> None:
    """Lay the tables that are missing; refuse a database of somebody else or of a newer version."""
    with engines.reader.begin() as connection:
        version = _version(connection, where)
    if version == schema.SCHEMA_VERSION:
        return
    if readonly:
        what = "holds no records" if version is None else "was last written by an older sandlab"
        raise StoreError(Problem(where, what, "open it for writing once"))
    with engines.writer.begin() as connection:
        # Somebody else may have laid them while this waited for the right to write.
        if _version(connection, where) != schema.SCHEMA_VERSION:
            # A newer schema only ever adds tables: those that are there stay as they are.
            schema.metadata.create_all(connection)
            connection.execute(schema.meta.insert(), {"schema_version": schema.SCHEMA_VERSION})


def _version(connection: Connection, where: str) -> int | None:
    names = set(inspect(connection).get_table_names())
    if not names:
        return None
    if not {"meta", "samples", "results"} <= names:
        raise StoreError(Problem(where, "is a database of another program", "look at the path"))
    version = connection.execute(select(func.max(schema.meta.c.schema_version))).scalar_one()
    if version > schema.SCHEMA_VERSION:
        what = f"was written by a newer sandlab (schema {version}; this one knows {schema.SCHEMA_VERSION})"
        raise StoreError(Problem(where, what, "install the newer sandlab here too; nothing was changed"))
    return int(version)
