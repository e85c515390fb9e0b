"""Where files out are written: made beside and moved in place complete, never over anything that exists."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sandlab.errors import InputError, Problem


@contextmanager
def fresh_folder(out: Path) -> Iterator[Path]:
    """A folder to fill, which becomes `out` once it is complete; raises InputError where it cannot."""
    with _fresh(out, folder=True) as building:
        yield building


@contextmanager
def fresh_file(out: Path) -> Iterator[Path]:
    """A file to write, which becomes `out` once it is complete; raises InputError where it cannot."""
    with _fresh(out, folder=False) as building:
        yield building


@contextmanager
def _fresh(out: Path, *, folder: bool) -> Iterator[Path]:
    """An empty folder may be filled; everything else that exists is left alone."""
    if out.exists() and not (folder and out.is_dir() and not any(out.iterdir())):
        raise InputError(Problem(str(out), "exists already", "name another place, or move it away first"))
    building = out.with_name(f".{out.name}.building")
    try:
        _remove(building)
        building.parent.mkdir(parents=True, exist_ok=True)
        if folder:
            building.mkdir()
        yield building
        if out.exists():
            out.rmdir()
        building.rename(out)
    except OSError as error:
        what = f"cannot be written: {error.strerror or error}"
        raise InputError(
            Problem(str(out), what, "look at the path, the rights on it, and the room")
        ) from error
    finally:
        _remove(building)


def _remove(building: Path) -> None:
    """Take away what is half made."""
    if building.is_dir():
        shutil.rmtree(building, ignore_errors=True)
    else:
        with suppress(OSError):
            building.unlink(missing_ok=True)
