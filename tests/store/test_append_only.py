"""No row is ever changed, deleted or overwritten, whoever asks the database for it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import Table, make_url

from sandlab.records import Amendment, AnyRecord
from sandlab.store import open_store
from sandlab.store.schema import metadata
from sandlab.store.triggers import unique_keys
from tests.store.examples import TEXTS, new_id, one_of_each

TABLES = pytest.mark.parametrize("table", metadata.sorted_tables, ids=lambda table: table.name)


@pytest.fixture
def raw(path: Path) -> Iterator[sqlite3.Connection]:
    """A plain connection, without any of the tool's settings, to a file with rows in every table."""
    store = open_store(path)
    records = one_of_each()
    store.save(records, specs_texts=TEXTS)
    store.save([revision_of(record) for record in records if not isinstance(record, Amendment)])
    store.close()
    connection = sqlite3.connect(path, isolation_level=None)
    yield connection
    connection.close()


def revision_of(record: AnyRecord) -> AnyRecord:
    """A record that corrects another one of its kind."""
    return record.model_copy(update={"id": new_id(), "revises": record.id, "reason": "typed wrongly"})


def rows(connection: sqlite3.Connection, table: Table) -> list[tuple[object, ...]]:
    """All rows of a table."""
    return connection.execute(f'SELECT * FROM "{table.name}"').fetchall()


def columns(table: Table) -> str:
    """The names of a table's columns, quoted."""
    return ", ".join(f'"{column.name}"' for column in table.columns)


@TABLES
def test_rows_are_not_changed_or_deleted(raw: sqlite3.Connection, table: Table) -> None:
    """Neither one by one nor all at once."""
    before = rows(raw, table)
    assert before
    for column in table.columns:
        for verb in ("UPDATE", "UPDATE OR REPLACE", "UPDATE OR IGNORE"):
            with pytest.raises(
                sqlite3.IntegrityError, match=f"append-only: rows of {table.name} are never changed"
            ):
                raw.execute(f'{verb} "{table.name}" SET "{column.name}" = "{column.name}"')
    with pytest.raises(sqlite3.IntegrityError, match=f"append-only: rows of {table.name} are never deleted"):
        raw.execute(f'DELETE FROM "{table.name}"')
    assert rows(raw, table) == before


@TABLES
@pytest.mark.parametrize("verb", ["INSERT OR REPLACE", "REPLACE", "INSERT OR IGNORE", "INSERT"])
def test_rows_are_not_overwritten(raw: sqlite3.Connection, table: Table, verb: str) -> None:
    """Every key by which one row could push another out is guarded."""
    before = rows(raw, table)
    names = [column.name for column in table.columns]
    for key in unique_keys(table):
        held = next(row for row in before if all(row[names.index(name)] is not None for name in key))
        # All other columns take new values where their type allows it, so that only this key is the same.
        changed = tuple(
            f"{value}x" if isinstance(value, str) and name not in key else value
            for name, value in zip(names, held, strict=True)
        )
        marks = ", ".join("?" * len(names))
        with pytest.raises(
            sqlite3.IntegrityError, match=f"append-only: this row of {table.name} exists already"
        ):
            raw.execute(f'{verb} INTO "{table.name}" ({columns(table)}) VALUES ({marks})', changed)
    assert rows(raw, table) == before


@TABLES
def test_an_upsert_changes_nothing(raw: sqlite3.Connection, table: Table) -> None:
    """ON CONFLICT DO UPDATE is stopped before it finds the conflict."""
    before = rows(raw, table)
    key = ", ".join(f'"{column.name}"' for column in table.primary_key)
    last = list(table.columns)[-1].name
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        raw.execute(
            f'INSERT INTO "{table.name}" SELECT * FROM "{table.name}" WHERE true '
            f'ON CONFLICT ({key}) DO UPDATE SET "{last}" = excluded."{last}"'
        )
    assert rows(raw, table) == before


@TABLES
def test_no_row_can_be_pushed_out_by_a_hidden_number(raw: sqlite3.Connection, table: Table) -> None:
    """A table with a rowid could be overwritten by it: there is none."""
    with pytest.raises(sqlite3.OperationalError, match="no such column: rowid"):
        raw.execute(f'SELECT rowid FROM "{table.name}"')


@TABLES
def test_a_table_takes_no_value_of_a_wrong_type(raw: sqlite3.Connection, table: Table) -> None:
    """STRICT tables: a text is not kept as a number or the other way round."""
    (sql,) = raw.execute("SELECT sql FROM sqlite_master WHERE name = ?", (table.name,)).fetchone()
    assert "STRICT" in sql
    assert "WITHOUT ROWID" in sql


@pytest.mark.parametrize("value", ["9e999", "-9e999", "NULL"])
def test_no_infinite_or_missing_value_gets_in(raw: sqlite3.Connection, value: str) -> None:
    """SQLite writes a NaN as NULL: only a correction may have none."""
    with pytest.raises(sqlite3.IntegrityError, match="CHECK constraint failed"):
        raw.execute(
            "INSERT INTO results SELECT system, 'permeability', taken_at, sample, 0, "
            f'{value}, point, method, censored, flags, "by", known_at, recorded_at FROM results LIMIT 1'
        )


@pytest.mark.postgresql
def test_postgresql_refuses_changes_as_well(postgresql: str, empty_database: str) -> None:
    """UPDATE, DELETE, TRUNCATE and upserts, on every table."""
    store = open_store(empty_database)
    store.save(one_of_each(), specs_texts=TEXTS)
    store.close()
    database = make_url(empty_database).database
    with psycopg.connect(host=postgresql, user="sandlab", dbname=database, autocommit=True) as connection:
        for table in metadata.sorted_tables:
            name, first = table.name, next(iter(table.columns)).name
            key = ", ".join(f'"{column.name}"' for column in table.primary_key)
            attacks = [
                f'UPDATE "{name}" SET "{first}" = "{first}"',
                f'DELETE FROM "{name}"',
                f'TRUNCATE "{name}" CASCADE',
                f'INSERT INTO "{name}" SELECT * FROM "{name}" '
                f'ON CONFLICT ({key}) DO UPDATE SET "{first}" = excluded."{first}"',
            ]
            before = connection.execute(f'SELECT * FROM "{name}"').fetchall()
            assert before
            for attack in attacks:
                with pytest.raises(psycopg.errors.IntegrityConstraintViolation, match="append-only: rows of"):
                    connection.execute(attack)
            assert connection.execute(f'SELECT * FROM "{name}"').fetchall() == before
