"""From keys to records in a real terminal: samples, a flag, new additions, a kill, nothing lost."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from sandlab.cli import demo
from sandlab.lab.advising import muller
from sandlab.lab.opening import open_lab
from sandlab.lab.rounds import sheet

pytestmark = [
    pytest.mark.tmux,
    pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed"),
]
PATIENCE_S = 60.0


class Terminal:
    """An 80x24 terminal of its own, on its own socket."""

    def __init__(self, folder: Path) -> None:
        self.socket = f"sandlab-{uuid.uuid4().hex[:8]}"
        self.folder = folder

    def tmux(self, *words: str) -> str:
        """One tmux command."""
        command = ["tmux", "-L", self.socket, "-f", os.devnull, *words]
        environment = os.environ | {"LC_ALL": "C.UTF-8"}
        return subprocess.run(command, capture_output=True, text=True, env=environment, check=False).stdout

    def open(self) -> None:
        """Start the tool."""
        command = f"exec {sys.executable} -m sandlab --plant {self.folder}"
        self.tmux("new-session", "-d", "-x", "80", "-y", "24", command)

    def screen(self) -> str:
        """What a person sees."""
        return self.tmux("capture-pane", "-p")

    def sees(self, words: str) -> str:
        """Wait until these words stand on the screen."""
        end = time.monotonic() + PATIENCE_S
        while words not in (shown := self.screen()):
            assert time.monotonic() < end, f"'{words}' is not there:\n{shown}"
            time.sleep(0.1)
        return shown

    def press(self, *keys: str) -> None:
        """Named keys."""
        self.tmux("send-keys", *keys)

    def type(self, text: str) -> None:
        """Characters as they are."""
        self.tmux("send-keys", "-l", text)

    def kill(self) -> None:
        """The power fails."""
        pid = int(self.tmux("list-panes", "-F", "#{pane_pid}").strip())
        os.kill(pid, signal.SIGKILL)
        self.tmux("kill-server")


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    """A terminal on a fresh demo plant."""
    folder = tmp_path / "demo"
    demo.make(folder, seed=7, now=datetime.now(UTC))
    opened = Terminal(folder)
    yield opened
    opened.tmux("kill-server")


def log(terminal: Terminal, values: str) -> str:
    """Type one hourly set and save it; what the tool says about it."""
    for value in values.split():
        terminal.type(value)
        terminal.press("Enter")
    terminal.sees("Enter saves 6 values")
    terminal.press("Enter")
    return terminal.sees("Saved: sample of")


def kept(terminal: Terminal, value: str) -> None:
    """Wait until a half-typed value is on the disk."""
    end = time.monotonic() + PATIENCE_S
    while not any(value in path.read_text() for path in (terminal.folder / "drafts").glob("*.draft")):
        assert time.monotonic() < end, "nothing is kept"
        time.sleep(0.05)


def test_a_shift_at_the_terminal(terminal: Terminal) -> None:
    """The main job end to end, then kill -9 in the middle of typing and open again."""
    terminal.open()
    terminal.sees("Hourly set")
    terminal.sees("F2 Tests")
    terminal.sees("Compactability")
    terminal.press("F5")
    terminal.sees("Who is at this terminal?")
    terminal.type("EK")
    terminal.press("Enter")
    terminal.sees("EK F5")
    for values in ("37 3,1 171 104 153.2 33", "36 3.05 172 104 153.4 33"):
        log(terminal, values)
        terminal.press("Escape")
        terminal.sees("nothing typed yet")
    said = log(terminal, "35 3.0 175 103 153.6 33")
    assert "below the lower" in said
    terminal.press("F7")
    assert "Additions for the next batches" in terminal.sees("= dilution")
    terminal.press("F6")
    terminal.sees("Hourly set: done")
    terminal.press("F4")
    terminal.sees("released by EK")
    terminal.press("F6")
    terminal.sees("set by EK")
    terminal.press("F3")
    terminal.sees("lower since")
    terminal.press("F2")
    terminal.sees("nothing typed yet")
    terminal.type("41")
    terminal.press("Enter")
    kept(terminal, "41")
    terminal.kill()

    lab = open_lab(terminal.folder)
    try:
        mine = [one for one in sheet(lab, last=10).samples if one.by == "EK"]
        assert len(mine) == 3
        facts = muller(lab)
        assert (facts.released_by, facts.acknowledged_by) == ("EK", "EK")
        water = {one.feeder: one for one in facts.additions}["water"]
        assert water.change_kg != 0.0
    finally:
        lab.close()
    again = Terminal(terminal.folder)
    try:
        again.open()
        again.sees("Half typed before, and not saved")
        assert "1 value, by EK" in again.sees("compactability 41")
        again.press("F6")
        again.sees("Enter saves 1 value")
        again.sees("last 35")
    finally:
        again.tmux("kill-server")
