"""A throwaway PostgreSQL server on a socket of its own, run by an ordinary user."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

DEBIAN = Path("/usr/lib/postgresql")


def programs() -> Path | None:
    """The folder with the server's programs: the newest of a Debian system, else from the search path."""
    newest = sorted(DEBIAN.glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]), reverse=True)
    found = newest[0] if newest else shutil.which("initdb")
    return Path(found).parent if found else None


def missing() -> str:
    """Why no server can be started here; empty when one can."""
    if programs() is None:
        return "no PostgreSQL server is installed"
    if os.geteuid() == 0 and "postgres" not in {entry.pw_name for entry in pwd.getpwall()}:
        return "a PostgreSQL server does not run as root, and there is no user postgres"
    return ""


@contextmanager
def running() -> Iterator[str]:
    """Start a server in a folder that goes away with it; yields its socket folder."""
    bin_ = programs()
    assert bin_ is not None
    folder = Path(tempfile.mkdtemp(prefix="pg"))
    user = "postgres" if os.geteuid() == 0 else None
    if user:
        shutil.chown(folder, user)
    data = folder / "data"

    def run(*command: str) -> None:
        subprocess.run(command, check=True, user=user, cwd=folder, capture_output=True, timeout=120)

    try:
        run(f"{bin_}/initdb", "-D", str(data), "-U", "sandlab", "-A", "trust", "-E", "UTF8", "--no-sync")
        options = f"-c listen_addresses= -c unix_socket_directories={folder} -c fsync=off"
        run(f"{bin_}/pg_ctl", "-D", str(data), "-w", "-o", options, "-l", str(folder / "log"), "start")
        try:
            yield str(folder)
        finally:
            run(f"{bin_}/pg_ctl", "-D", str(data), "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
