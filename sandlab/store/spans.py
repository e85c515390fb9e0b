"""Which rows are asked for: a stretch of time, and of that those that nothing later has replaced."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Column, ColumnElement, Table, exists

from sandlab.store.rows import microseconds


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of history: from `since` to `until`, both included, and of that the `last` ones."""

    since: datetime | None = None
    until: datetime | None = None
    last: int | None = None

    def within(self, column: Column[Any]) -> Iterator[ColumnElement[bool]]:
        """The conditions on a column of times."""
        if self.since is not None:
            yield column >= microseconds(self.since)
        if self.until is not None:
            yield column <= microseconds(self.until)


def in_force(table: Table) -> Iterator[ColumnElement[bool]]:
    """The conditions that leave out voids and what a later record revises."""
    later = table.alias("later")
    yield table.c.voided == 0
    yield ~exists().where(later.c.revises == table.c.id)
