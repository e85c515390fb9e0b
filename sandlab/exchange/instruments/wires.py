"""Bytes from a serial line or a socket, opened for reading alone."""

from __future__ import annotations

import os
import select
import socket
from collections.abc import Callable, Iterator
from contextlib import closing

from sandlab.specs import Instrument

WAIT_S = 0.2
CONNECT_S = 5.0
_CHUNK = 4096


def chunks(
    instrument: Instrument, stopped: Callable[[], bool], connected: Callable[[], None]
) -> Iterator[bytes]:
    """What arrives, until `stopped`; raises OSError when the line cannot be opened or is lost.

    An empty chunk is a moment in which nothing arrived.
    """
    if instrument.connection == "tcp":
        host, _, port = instrument.port.rpartition(":")
        with socket.create_connection((host, int(port)), timeout=CONNECT_S) as link:
            link.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
            connected()
            yield from _read(link.fileno(), lambda: link.recv(_CHUNK), stopped)
    else:
        handle = _open_serial(instrument)
        with closing(os.fdopen(handle, "rb", buffering=0)):
            connected()
            yield from _read(handle, lambda: os.read(handle, _CHUNK), stopped)


def _read(handle: int, receive: Callable[[], bytes], stopped: Callable[[], bool]) -> Iterator[bytes]:
    while not stopped():
        ready, _, _ = select.select([handle], [], [], WAIT_S)
        if not ready:
            yield b""
            continue
        received = receive()
        if not received:
            raise OSError("the other side closed the line")
        yield received


def _open_serial(instrument: Instrument) -> int:
    """A serial line as a file handle, set to the instrument's speed and form."""
    try:
        import termios
    except ImportError:  # not on every system
        raise OSError("serial lines are not read on this system: use a gateway (tcp) or a folder") from None
    handle = os.open(instrument.port, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
    try:
        speed = getattr(termios, f"B{instrument.baud}")
        control = termios.CREAD | termios.CLOCAL | (termios.CS8 if instrument.bits == 8 else termios.CS7)
        control |= {"none": 0, "even": termios.PARENB, "odd": termios.PARENB | termios.PARODD}[
            instrument.parity
        ]
        control |= termios.CSTOPB if instrument.stop == 2 else 0
        settings = termios.tcgetattr(handle)
        # Bytes as they come: no echo, no signals, no translation of line ends.
        settings[:4] = [0, 0, control, 0]
        settings[4] = settings[5] = speed
        termios.tcsetattr(handle, termios.TCSANOW, settings)
        termios.tcflush(handle, termios.TCIFLUSH)
    except termios.error as error:
        os.close(handle)
        raise OSError(f"{instrument.port} is not a serial line ({error.args[-1]})") from error
    os.set_blocking(handle, True)
    return handle
