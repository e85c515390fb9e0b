"""Where a database file may stand: what is missing is made, what cannot work is refused."""

from __future__ import annotations

import os
from pathlib import Path, PurePosixPath

from sandlab.errors import Problem, StoreError

MOUNTS = Path("/proc/self/mounts")
# File systems over a network, on which locks of several machines cannot be trusted.
NETWORK = {"nfs", "nfs4", "cifs", "smb3", "smbfs", "afs", "ncpfs", "fuse.sshfs"}


def make_ready(path: Path, *, readonly: bool) -> None:
    """Make the folders of a new file; raise StoreError where a database cannot be opened."""
    if path.is_dir():
        raise StoreError(Problem(str(path), "is a folder", "name the database file in it"))
    if on_network(path.absolute(), MOUNTS.read_text() if MOUNTS.exists() else ""):
        what = "is on a network drive, where a database file gets damaged when several machines write to it"
        raise StoreError(Problem(str(path), what, "keep the plant folder on a disk of this machine"))
    if readonly:
        if not path.exists():
            raise StoreError(Problem(str(path), "does not exist", "look at the path"))
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    for place in (path.parent, path):
        if place.exists() and not os.access(place, os.W_OK):
            do = "get the right to write there, or open it for reading only"
            raise StoreError(Problem(str(place), "may not be written", do))
    path.touch()


def on_network(path: Path, mounts: str) -> bool:
    """Whether a path is on a network drive, by its Windows name or by the system's table of mounts."""
    if str(path).startswith("\\\\"):
        return True
    best, kind = "", ""
    for line in mounts.splitlines():
        _, place, type_, *_ = line.split(" ")
        # The table writes a blank in a path as an octal escape.
        place = place.replace("\\040", " ")
        if len(place) >= len(best) and PurePosixPath(path).is_relative_to(place):
            best, kind = place, type_
    return kind in NETWORK
