"""Which rows are asked for: a stretch of time, and of that those that nothing later has replaced."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, Table, exists, select

from sandlab.store.rows import microseconds

FOREVER = 2**62
ALL = 2**31 - 1


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of history: from `since` to `until`, both included, and of that the `last` ones."""

    since: datetime | None = None
    until: datetime | None = None
    last: int | None = None

    def limits(self) -> dict[str, int]:
        """The ends as microseconds and the number of rows, with the largest possible where none is given."""
        return {
            "since": -FOREVER if self.since is None else microseconds(self.since),
            "until": FOREVER if self.until is None else microseconds(self.until),
            "last": ALL if self.last is None else self.last,
        }


def newest_first(table: Table, system: str, span: Span, *, revised: bool = False) -> Select[Any]:
    """The query for the records of a kind; without voids and revised ones unless they are asked for."""
    column, limits, later = table.c, span.limits(), table.alias("later")
    query = select(table).where(column.system == system, column.at.between(limits["since"], limits["until"]))
    if not revised:
        query = query.where(column.voided == 0, ~exists().where(later.c.revises == column.id))
    return query.order_by(column.at.desc(), column.recorded_at.desc(), column.id.desc()).limit(limits["last"])
