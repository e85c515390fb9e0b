"""Listening to a plant's instruments: one process does it, any other sees what that one hears."""

from __future__ import annotations

import os
from contextlib import suppress

from sandlab.exchange.instruments import Journal, Listener
from sandlab.lab.opening import Lab

LOCK = "listening.lock"


class Listening:
    """The listeners of a plant, until `stop`."""

    def __init__(self, lab: Lab, handle: int) -> None:
        self._handle = handle
        journal = Journal(lab.folder)
        self.listeners = [
            Listener(
                key,
                instrument,
                lab.specs,
                lab.system,
                journal,
                folder=lab.folder,
                clock=lab.clock,
                new_id=lab.new_id,
            )
            for key, instrument in lab.specs.instruments.items()
        ]
        for listener in self.listeners:
            listener.start()

    def stop(self, wait_s: float = 2.0) -> None:
        """End every listener, and let another process listen."""
        for listener in self.listeners:
            listener.stop(wait_s)
        with suppress(OSError):
            os.close(self._handle)


def listen(lab: Lab) -> Listening | None:
    """Begin to listen; None when the plant has no instruments, or another process listens already."""
    if not lab.specs.instruments:
        return None
    handle = _locked(lab)
    return None if handle is None else Listening(lab, handle)


def is_listened_to(lab: Lab) -> bool:
    """Whether some process listens now."""
    if not (Journal(lab.folder).folder / LOCK).exists():
        return False
    handle = _locked(lab)
    if handle is None:
        return True
    os.close(handle)
    return False


def _locked(lab: Lab) -> int | None:
    """A handle that holds the lock while it is open; None when another holds it or none can be had."""
    folder = Journal(lab.folder).folder
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError:
        return None
    try:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except ImportError:  # not on every system: there every process listens
        return handle
    except OSError:
        os.close(handle)
        return None
    return handle
