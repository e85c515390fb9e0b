"""A process on a pseudo-terminal: keys in, drawn text out, and when."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from pathlib import Path
from types import TracebackType

SIZE = (24, 80)
PATIENCE_S = 20.0


class Terminal:
    """Python code running in a terminal of its own; modules are compiled once, as in an installed package."""

    def __init__(self, code: str, *words: str, compiled: str) -> None:
        self.seen = b""
        self.parent, child = pty.openpty()
        os.set_blocking(self.parent, False)
        fcntl.ioctl(child, termios.TIOCSWINSZ, struct.pack("HHHH", *SIZE, 0, 0))
        environment = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor"}
        environment |= {"PYTHONPYCACHEPREFIX": compiled, "PYTHONDONTWRITEBYTECODE": ""}
        self.start = time.perf_counter()
        self.process = subprocess.Popen(
            [sys.executable, "-c", code, *words],
            stdin=child,
            stdout=child,
            stderr=child,
            env=environment,
            start_new_session=True,
        )
        os.close(child)

    def __enter__(self) -> Terminal:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        os.close(self.parent)

    def type(self, text: str) -> None:
        """Send keys."""
        os.write(self.parent, text.encode())

    def forget(self) -> None:
        """Look only at what is drawn from now on."""
        self.seen = b""

    def spent(self) -> float:
        """Seconds of processor time so far; a busy machine makes them no longer."""
        text = Path(f"/proc/{self.process.pid}/stat").read_text(encoding="ascii")
        fields = text.rpartition(") ")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def clock(self) -> float:
        """Seconds since the start."""
        return time.perf_counter() - self.start

    def sees(self, wanted: str) -> float:
        """Seconds since the start when this text has been drawn."""
        deadline = time.perf_counter() + PATIENCE_S
        while wanted.encode() not in self.seen:
            if time.perf_counter() > deadline:
                raise TimeoutError(f"'{wanted}' was not drawn; the last text was {self.seen[-400:]!r}")
            if select.select([self.parent], [], [], 0.05)[0]:
                self.seen += os.read(self.parent, 65536)
        return self.clock()
