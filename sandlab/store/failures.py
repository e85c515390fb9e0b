"""What a failing database means to the person in front of it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, IntegrityError

from sandlab.errors import Problem, RecordRefused, SandlabError, StoreError

# Beginning of the name of SQLite's result code -> what is wrong, what to do.
_MEANINGS = {
    "SQLITE_BUSY": (
        "another program has kept the file to itself for too long",
        "close what else works on it (a copy, a backup, a database viewer) and try again",
    ),
    "SQLITE_LOCKED": ("another connection keeps a table to itself", "try again"),
    "SQLITE_FULL": (
        "no room is left on the disk; nothing of this save was kept, what was saved before is intact",
        "free some space and save again",
    ),
    "SQLITE_READONLY_ROLLBACK": (
        "the last save was cut short, and reading alone may not clear away what is left of it",
        "open it once for writing; what was saved before is intact",
    ),
    "SQLITE_READONLY": (
        "the file or its folder may not be written",
        "get the right to write both, or open it for reading only",
    ),
    "SQLITE_CANTOPEN": ("the file cannot be opened", "look at the path and at the rights on file and folder"),
    "SQLITE_NOTADB": (
        "this file is not a database",
        "look at the path; if it should be one, put the latest backup in its place and keep this file",
    ),
    "SQLITE_CORRUPT": (
        "the database file is damaged",
        "stop working on it, keep a copy, and put the latest backup in its place; "
        "`sqlite3 FILE .recover` can save what the copy still holds",
    ),
    "SQLITE_IOERR": (
        "the disk did not do what it was told; nothing of this save was kept, "
        "what was saved before is intact",
        "look for room, quotas and faults on the disk, then save again",
    ),
}
_UNKNOWN = "look at the message, then try again"


@contextmanager
def told(where: str) -> Iterator[None]:
    """Turn the errors of database and disk into one that says where, what and what to do."""
    try:
        yield
    except SandlabError:
        raise
    except IntegrityError as error:
        raise RecordRefused(Problem(where, str(error.orig), "nothing was saved; read again")) from error
    except DBAPIError as error:
        raise StoreError(_problem(where, error.orig or error)) from error
    except sqlite3.Error as error:
        raise StoreError(_problem(where, error)) from error
    except OSError as error:
        what = error.strerror or str(error)
        raise StoreError(Problem(where, what, "look at the path and at the rights on it")) from error


def _problem(where: str, error: BaseException) -> Problem:
    code = getattr(error, "sqlite_errorname", "")
    for beginning, (what, do) in _MEANINGS.items():
        if code.startswith(beginning):
            return Problem(where, what, do)
    return Problem(where, f"the database says: {error}", _UNKNOWN)
