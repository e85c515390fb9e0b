"""Enter to saved and redrawn, against a bare sqlite3 commit plus one widget update; both in a terminal."""

from __future__ import annotations

import argparse
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from statistics import mean, median

from sandlab.cli import demo
from tests.benchmarks.terminal import Terminal
from tests.benchmarks.timing import report

BARE = """
import sqlite3, sys
from textual.app import App
from textual.widgets import Static
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("PRAGMA synchronous = FULL")
connection.execute("CREATE TABLE IF NOT EXISTS result (value REAL) STRICT")
class Bare(App):
    count = 0
    def compose(self):
        yield Static("ready")
    def on_key(self, event):
        if event.key == "enter":
            self.count += 1
            connection.execute("BEGIN IMMEDIATE")
            connection.execute("INSERT INTO result VALUES (3.2)")
            connection.execute("COMMIT")
            self.query_one(Static).update(f"saved {self.count} times")
Bare().run()
"""
TOOL = """
import sys
from pathlib import Path
from sandlab.screens.app import run
run(Path(sys.argv[1]), technician="EK")
"""
VALUES = ("41", "3.3", "168", "104", "151.2", "33")


def main(argv: list[str]) -> None:
    """Print the medians and the ratio; the tool also judges, derives, charts and says what follows."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks entry")
    parser.add_argument("--repeats", type=int, default=9)
    repeats = parser.parse_args(argv).repeats
    with tempfile.TemporaryDirectory() as folder:
        demo.make(Path(folder) / "plant", seed=7, now=datetime.now(UTC))
        bare, tool = _bare(folder, repeats), _tool(folder, repeats)
    for kind, at in (("", 0), ("processor time of ", 1)):
        baseline = max(1e-3, middle(bare, at))
        report(f"{kind}sqlite3 commit and one widget update", baseline, baseline, "bare")
        report(f"{kind}Enter to saved, on disk, and redrawn", middle(tool, at), baseline, "bare")


Taken = list[tuple[float, float]]
"""Seconds on the clock and of processor time."""


def middle(taken: Taken, at: int) -> float:
    """The median of what the clock says; of processor time, in hundredths, the mean of all but the worst."""
    found = sorted(one[at] for one in taken)
    return mean(found[:-1]) if at else median(found)


def _bare(folder: str, repeats: int) -> Taken:
    taken = []
    with Terminal(BARE, f"{folder}/bare.sqlite", compiled=f"{folder}/compiled") as terminal:
        terminal.sees("ready")
        for count in range(1, repeats + 1):
            terminal.forget()
            before, spent = terminal.clock(), terminal.spent()
            terminal.type("\r")
            taken.append((terminal.sees(f"{count}") - before, terminal.spent() - spent))
    return taken


def _tool(folder: str, repeats: int) -> Taken:
    taken = []
    with Terminal(TOOL, f"{folder}/plant", compiled=f"{folder}/compiled") as terminal:
        terminal.sees("last ")
        for _ in range(repeats):
            for value in VALUES:
                terminal.type(f"{value}\r")
            terminal.sees("Enter saves 6 values")
            terminal.forget()
            before, spent = terminal.clock(), terminal.spent()
            terminal.type("\r")
            taken.append((terminal.sees("Saved: sample of") - before, terminal.spent() - spent))
            # The form is blank behind the report already: wait until it is drawn anew.
            terminal.forget()
            terminal.type("\x1b")
            terminal.sees("nothing typed yet")
    return taken
