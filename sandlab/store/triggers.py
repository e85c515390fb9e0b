"""Rows are added, never changed: triggers on every table refuse changes, deletions and replacements."""

from __future__ import annotations

from sqlalchemy import DDL, Index, MetaData, Table, UniqueConstraint, event
from sqlalchemy.schema import ExecutableDDLElement

REFUSED = "append-only"

_POSTGRESQL_FUNCTION = f"""
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{REFUSED}: rows of %% are never changed or deleted', TG_TABLE_NAME
USING ERRCODE = 'integrity_constraint_violation'; END $$
"""


def guard(metadata: MetaData) -> None:
    """Have the triggers made together with the tables, for SQLite and for PostgreSQL."""
    event.listen(metadata, "before_create", _only(_POSTGRESQL_FUNCTION, "postgresql"))
    for table in metadata.sorted_tables:
        for statement in sqlite_triggers(table):
            event.listen(table, "after_create", _only(statement, "sqlite"))
        for statement in postgresql_triggers(table):
            event.listen(table, "after_create", _only(statement, "postgresql"))


def sqlite_triggers(table: Table) -> list[str]:
    """Three triggers; the one before an insert is there because INSERT OR REPLACE passes the other two."""
    name = table.name
    taken = " OR ".join(
        "(" + " AND ".join(f'"{column}" = NEW."{column}"' for column in key) + ")"
        for key in unique_keys(table)
    )
    there = f'EXISTS (SELECT 1 FROM "{name}" WHERE {taken})'
    return [
        f'CREATE TRIGGER "{name}_no_update" BEFORE UPDATE ON "{name}" '
        f"BEGIN SELECT RAISE(ABORT, '{REFUSED}: rows of {name} are never changed'); END",
        f'CREATE TRIGGER "{name}_no_delete" BEFORE DELETE ON "{name}" '
        f"BEGIN SELECT RAISE(ABORT, '{REFUSED}: rows of {name} are never deleted'); END",
        f'CREATE TRIGGER "{name}_no_replace" BEFORE INSERT ON "{name}" WHEN {there} '
        f"BEGIN SELECT RAISE(ABORT, '{REFUSED}: this row of {name} exists already'); END",
    ]


def postgresql_triggers(table: Table) -> list[str]:
    """Two triggers; PostgreSQL has no INSERT OR REPLACE, and ON CONFLICT DO UPDATE fires the first."""
    name = table.name
    return [
        f'CREATE TRIGGER "{name}_no_change" BEFORE UPDATE OR DELETE ON "{name}" '
        "FOR EACH ROW EXECUTE FUNCTION refuse_change()",
        f'CREATE TRIGGER "{name}_no_truncate" BEFORE TRUNCATE ON "{name}" '
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()",
    ]


def unique_keys(table: Table) -> list[list[str]]:
    """The columns of every key of which two rows cannot hold the same: a replacement goes by any of them."""
    unique: list[UniqueConstraint | Index] = [
        constraint for constraint in table.constraints if isinstance(constraint, UniqueConstraint)
    ]
    unique += [index for index in table.indexes if index.unique]
    return [[column.name for column in key.columns] for key in (table.primary_key, *unique)]


def _only(statement: str, dialect: str) -> ExecutableDDLElement:
    return DDL(statement).execute_if(dialect=dialect)  # type: ignore[no-untyped-call]
