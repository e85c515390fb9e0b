"""Where files out are written: made beside and moved in place complete, never over anything that exists."""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sandlab.errors import InputError, Problem, impossible

ENDING = ".building"
LEFT_BEHIND_S = 86_400.0
"""What is half made and has stood so long was left by a process that was killed."""


@contextmanager
def fresh_folder(out: Path) -> Iterator[Path]:
    """A folder to fill, which becomes `out` once it is complete; raises InputError where it cannot."""
    with _fresh(out, folder=True) as building:
        building.mkdir()
        yield building


@contextmanager
def fresh_file(out: Path) -> Iterator[Path]:
    """A file to write, which becomes `out` once it is complete; raises InputError where it cannot."""
    with _fresh(out, folder=False) as building:
        yield building


@contextmanager
def _fresh(out: Path, *, folder: bool) -> Iterator[Path]:
    """A place of one's own beside `out`: two that write at once do not touch each other's."""
    parent, name = out.absolute().parent, out.absolute().name
    try:
        _require_free(out, folder=folder)
        parent.mkdir(parents=True, exist_ok=True)
        start = f".{name[:40]}."
        _take_away_left_behind(parent, start)
        own = Path(tempfile.mkdtemp(ENDING, start, parent))
        try:
            yield own / name
            _require_free(out, folder=folder)
            if out.exists():
                out.rmdir()
            (own / name).rename(out)
        finally:
            shutil.rmtree(own, ignore_errors=True)
    except OSError as error:
        what = f"cannot be written: {error.strerror or error}"
        raise InputError(
            Problem(str(out), what, "look at the path, the rights on it, and the room")
        ) from error


def _require_free(out: Path, *, folder: bool) -> None:
    """An empty folder may be filled; everything else that exists is left alone."""
    if not out.exists():
        return
    if not (folder and out.is_dir() and not any(out.iterdir())):
        raise impossible(str(out), "exists already", "name another place, or move it away first")
    if out.resolve() == Path.cwd():
        raise impossible(str(out), "is the folder you are in", "name a new folder in it")


def _take_away_left_behind(parent: Path, start: str) -> None:
    """Half-made places of killed processes."""
    for path in parent.glob(f"*{ENDING}"):
        with suppress(OSError):
            if path.name.startswith(start) and time.time() - path.stat().st_mtime > LEFT_BEHIND_S:
                shutil.rmtree(path)
