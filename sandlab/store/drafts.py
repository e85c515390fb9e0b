"""Half-typed work on the disk: one file per terminal, held while the terminal lives, found when it has died.

A file is written line by line and each line is the whole of what was typed then, so that a crash in the
middle of a line leaves the line before it. The lock of a file ends with its process, however it ends: what
no terminal holds any more was left behind, and the first one to lock it may take it up.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from sandlab.errors import Problem, StoreError

FOLDER = "drafts"
LARGEST = 64_000
"""Bytes after which a terminal begins its file anew."""


class Drafts:
    """What this terminal has half done, and what others have left behind; `ending` tells kinds apart."""

    def __init__(self, folder: Path, ending: str = ".draft") -> None:
        self._folder = folder / FOLDER
        self._ending = ending
        self._own: BinaryIO | None = None
        self._path: Path | None = None

    def keep(self, name: str, text: str) -> None:
        """Write the whole of what is typed now, one line; returns when it is on the disk.

        `name` is a fresh id, used when a file has to be begun.
        """
        try:
            if self._own is None or self._own.tell() > LARGEST:
                self._begin(name)
            if self._own is not None:
                self._own.write(text.encode() + b"\n")
                self._own.flush()
                os.fsync(self._own.fileno())
        except OSError as error:
            what = f"what is half typed could not be kept: {error.strerror}"
            do = "save the values; they would not survive a crash now"
            raise StoreError(Problem(str(self._folder), what, do)) from error

    def done(self) -> None:
        """Nothing is half typed any more: the terminal's own file goes."""
        if self._own is not None and self._path is not None:
            _remove(self._own, self._path)
        self._own = self._path = None

    def left(self) -> dict[str, str]:
        """What no living terminal holds, by name."""
        found = {}
        for path in sorted(self._folder.glob(f"*{self._ending}")):
            if path != self._path and (file := _locked(path)) is not None:
                if text := _last_line(file):
                    found[path.stem] = text
                file.close()
        return found

    @contextmanager
    def taken(self, name: str) -> Iterator[str | None]:
        """Hold one that was left: it goes when the block ends well; None when another has been quicker."""
        path = self._folder / f"{name}{self._ending}"
        file = _locked(path) if path != self._path else None
        if file is None:
            yield None
            return
        with file:
            yield _last_line(file) or None
            _remove(file, path)

    def close(self) -> None:
        """Let go of the own file; it stays, for whoever opens the plant next."""
        if self._own is not None:
            self._own.close()
        self._own = self._path = None

    def _begin(self, name: str) -> None:
        """A new file, held from its first byte on; the one before goes once this one is there."""
        self._folder.mkdir(parents=True, exist_ok=True)
        path = self._folder / f"{name}{self._ending}"
        file = path.open("ab")
        # Another terminal that looks for what was left may hold it for a moment.
        lock(file, wait=True)
        old, old_path = self._own, self._path
        self._own, self._path = file, path
        if old is not None and old_path is not None:
            # Only after the next line is written may the old file go, so it is copied first.
            file.write(old_path.read_bytes().splitlines(keepends=True)[-1])
            file.flush()
            _remove(old, old_path)


def _locked(path: Path) -> BinaryIO | None:
    """The file, held; None when a living process holds it or it is gone."""
    try:
        file = path.open("r+b")
    except OSError:
        return None
    # Between opening and locking another terminal may have taken it up and removed it.
    if lock(file) and path.exists():
        return file
    file.close()
    return None


def _remove(file: BinaryIO, path: Path) -> None:
    """Empty a file while it is held, so that nobody finds it half gone, then let go and remove it."""
    file.truncate(0)
    file.close()
    path.unlink(missing_ok=True)


def _last_line(file: BinaryIO) -> str:
    """The last line that was written to its end."""
    whole = file.read().split(b"\n")[:-1]
    return whole[-1].decode("utf-8", errors="replace") if whole else ""


def lock(file: BinaryIO, *, wait: bool = False) -> bool:
    """Hold a file until it is closed or the process ends; False when another holds it."""
    try:
        if sys.platform == "win32":
            import msvcrt

            # A byte far behind the end, so that the lines stay readable.
            file.seek(2**30)
            msvcrt.locking(file.fileno(), msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK, 1)
            file.seek(0)
        else:
            import fcntl

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        return False
    return True
