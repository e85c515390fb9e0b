"""First frame of the tool in a terminal against a bare Textual app: processes, medians, and their ratio."""

from __future__ import annotations

import argparse
import tempfile
from statistics import median

from tests.benchmarks.terminal import Terminal
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
    with Terminal(code, f"{folder}/plant", compiled=f"{folder}/compiled") as terminal:
        terminal.type("7")
        return [terminal.sees(text) for text in wanted]
