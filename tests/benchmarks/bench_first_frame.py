"""First frame of the tool in a terminal against a bare Textual app: processes, medians, and their ratio."""

from __future__ import annotations

import argparse
import os
import pty
import select
import signal
import subprocess
import sys
import tempfile
import time
from statistics import median

from tests.benchmarks.timing import report

BARE = """
from textual.app import App
from textual.widgets import Static
class Bare(App):
    def compose(self):
        yield Static("bare app is up")
Bare().run()
"""
TOOL = """
import sys
from pathlib import Path
from sandlab.screens.app import run
run(Path(sys.argv[1]))
"""
SIZE = (24, 80)
PATIENCE_S = 20.0


def main(argv: list[str]) -> None:
    """Print the times and their ratios; a digit has landed when the save line counts it."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks first_frame")
    parser.add_argument("--repeats", type=int, default=9)
    repeats = parser.parse_args(argv).repeats
    with tempfile.TemporaryDirectory() as folder:
        first(BARE, folder, "bare app is up")
        measure(folder)
        bare, frame, digit, due = [], [], [], []
        for _ in range(repeats):
            bare.append(first(BARE, folder, "bare app is up")[0])
            times = measure(folder)
            frame.append(times[0])
            digit.append(times[1])
            due.append(times[2])
    baseline = median(bare)
    report("bare Textual app", baseline, baseline, "bare")
    report("first screen: labels and field", median(frame), baseline, "bare")
    report("first screen with a typed digit shown", median(digit), baseline, "bare")
    report("first judgement", median(due), baseline, "bare")


def measure(folder: str) -> list[float]:
    """Seconds to the last label, to a digit typed at the start counted by the form, and to its judgement."""
    return first(TOOL, folder, "Sand temperature", "Enter saves 1 value", "target")


def first(code: str, folder: str, *wanted: str) -> list[float]:
    """Seconds from the start of a process until each text is drawn; a digit is typed at once."""
    parent, child = pty.openpty()
    os.set_blocking(parent, False)
    _resize(child)
    # Modules compiled once, as in an installed package.
    environment = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor"}
    environment |= {"PYTHONPYCACHEPREFIX": f"{folder}/compiled", "PYTHONDONTWRITEBYTECODE": ""}
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-c", code, f"{folder}/plant"],
        stdin=child,
        stdout=child,
        stderr=child,
        env=environment,
        start_new_session=True,
    )
    os.close(child)
    try:
        os.write(parent, b"7")
        times, seen = [], b""
        for text in wanted:
            seen = _read_until(parent, seen, text.encode())
            times.append(time.perf_counter() - start)
        return times
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()
        os.close(parent)


def _resize(terminal: int) -> None:
    import fcntl
    import struct
    import termios

    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", *SIZE, 0, 0))


def _read_until(terminal: int, seen: bytes, wanted: bytes) -> bytes:
    """Everything drawn so far, once `wanted` is among it."""
    deadline = time.perf_counter() + PATIENCE_S
    while wanted not in seen:
        if time.perf_counter() > deadline:
            raise TimeoutError(f"'{wanted.decode()}' was not drawn; the last text was {seen[-400:]!r}")
        if select.select([terminal], [], [], 0.05)[0]:
            seen += os.read(terminal, 65536)
    return seen
