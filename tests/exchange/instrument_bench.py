"""Instruments that are simulated: the far end of a pseudo-terminal and of a loopback socket."""

from __future__ import annotations

import os
import socket
import threading
import time
import tty
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from sandlab.exchange.instruments import Journal, Listener
from sandlab.specs import Instrument, Specs

PATIENCE_S = 10.0


def until(holds: Callable[[], bool]) -> None:
    """Wait for something that another thread brings about; no test measures how long it took."""
    end = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end, "it never happened"
        time.sleep(0.01)


class FarEnd:
    """The instrument's side of a pseudo-terminal, whose near side is a serial line to whoever opens it."""

    def __init__(self) -> None:
        self.handle, near = os.openpty()
        tty.setraw(self.handle)
        self.port = os.ttyname(near)
        os.close(near)

    def send(self, text: bytes) -> None:
        """Say something."""
        os.write(self.handle, text)

    def hang_up(self) -> None:
        """Pull the plug."""
        os.close(self.handle)


class Gateway:
    """A gateway on the loopback interface that takes one caller after another."""

    def __init__(self) -> None:
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port = f"127.0.0.1:{self.server.getsockname()[1]}"
        self.callers: list[socket.socket] = []
        self.received = bytearray()
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        while True:
            try:
                caller, _ = self.server.accept()
            except OSError:
                return
            self.callers.append(caller)
            threading.Thread(target=self._hear, args=(caller,), daemon=True).start()

    def _hear(self, caller: socket.socket) -> None:
        with suppress(OSError):
            while received := caller.recv(100):
                self.received += received

    def send(self, text: bytes) -> None:
        """Say something to the last caller."""
        self.callers[-1].sendall(text)

    def hang_up(self) -> None:
        """Drop the last caller."""
        self.callers[-1].shutdown(socket.SHUT_RDWR)
        self.callers[-1].close()

    def close(self) -> None:
        """Take the gateway away."""
        with suppress(OSError):
            self.server.shutdown(socket.SHUT_RDWR)
        self.server.close()
        for caller in self.callers:
            with suppress(OSError):
                caller.shutdown(socket.SHUT_RDWR)
            caller.close()


@contextmanager
def listening(
    instrument: Instrument, specs: Specs, folder: Path, clock: Callable[[], datetime] | None = None
) -> Iterator[Listener]:
    """A listener at work in a plant folder."""
    listener = Listener(
        "tester",
        instrument,
        specs,
        "main",
        Journal(folder),
        folder=folder,
        clock=clock or (lambda: datetime.now(UTC)),
        new_id=lambda: str(uuid.uuid4()),
        again_s=0.05,
    )
    listener.start()
    try:
        yield listener
    finally:
        listener.stop()
