"""Key press to redraw with a long chart open, and switching screens, against a bare Textual app."""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from uuid import UUID

import numpy as np

from sandlab.lab.charting import freeze_baseline
from sandlab.lab.opening import Lab, open_lab
from sandlab.records import Result, Sample
from tests.benchmarks.terminal import Terminal
from tests.benchmarks.timing import report

BARE = """
from textual.app import App
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Static
class One(Screen):
    BINDINGS = [Binding("left", "count", "")]
    count = 0
    def compose(self):
        yield Static("bare one is up")
    def action_count(self):
        self.count += 1
        self.query_one(Static).update(f"key {self.count} is drawn")
class Two(Screen):
    def compose(self):
        yield Static("bare two is up")
class Bare(App):
    BINDINGS = [Binding("f2", "switch_mode('one')", ""), Binding("f3", "switch_mode('two')", "")]
    MODES = {"one": One, "two": Two}
    DEFAULT_MODE = "one"
Bare().run()
"""
TOOL = """
import sys
from datetime import datetime
from pathlib import Path
from sandlab.screens.app import SandlabApp
now = datetime.fromisoformat(sys.argv[2])
SandlabApp(Path(sys.argv[1]), technician="AK", clock=lambda: now, glyphs="full").run()
"""
NOW = datetime(2026, 3, 4, 13, 7, tzinfo=UTC)
NAME = "compactability"
BLOCK = 9_000
SPREAD = 0x9E3779B97F4A7C15F39CC0605CEDC835
LEFT, F2, F3 = "\x1b[D", "\x1bOQ", "\x1bOR"


def main(argv: list[str]) -> None:
    """Print medians and their ratios to the bare app's."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks redraw")
    parser.add_argument("--count", type=int, default=90_000, help="tests of the chart")
    parser.add_argument("--keys", type=int, default=40)
    options = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as folder:
        lab = open_lab(Path(folder) / "plant", clock=lambda: NOW)
        fill(lab, options.count)
        lab.close()
        bare_key, bare_work, bare_switch = bare(folder, options.keys)
        report("bare app: key to a changed line", bare_key, bare_key, "bare key")
        report("bare app: processor time of a key", bare_work, bare_work, "bare work")
        for name, (taken, work) in long_chart(folder, options.count, options.keys).items():
            report(f"{options.count} tests, {name}", taken, bare_key, "bare key")
            report("    processor time", work, bare_work, "bare work")
        report("bare app: switch of screens", bare_switch, bare_switch, "bare switch")
        report("Tests to Charts and back, each", switches(folder, options.keys), bare_switch, "bare switch")


def fill(lab: Lab, count: int) -> None:
    """Hourly tests with limits from a stretch of them; one planted outlier."""
    draw = np.random.default_rng(5)
    values = (42.0 + 1.2 * draw.normal(size=count)).round(1)
    values[count // 2] = 60.0
    for first in range(0, count, BLOCK):
        numbers = range(first, min(first + BLOCK, count))
        samples = [sample(lab, number, count, float(values[number])) for number in numbers]
        lab.store.save(samples, specs_texts={lab.specs.hash: lab.specs.canonical_text})
    freeze_baseline(
        lab,
        NAME,
        window_from=NOW - timedelta(hours=400),
        window_to=NOW - timedelta(hours=100),
        by="MO",
        reason="quiet",
    )


def taken_at(number: int, count: int) -> datetime:
    """When a test was taken."""
    return NOW - timedelta(hours=count - number)


def sample(lab: Lab, number: int, count: int, value: float) -> Sample:
    """An hourly sample with one result."""
    at = taken_at(number, count)
    result = Result.model_construct(
        property=NAME, value=value, method="", censored="", flags=(), readings=(), known_at=None, revision=0
    )
    return Sample.model_construct(
        id=str(UUID(int=(number + 1) * SPREAD % 2**128)),
        system=lab.system,
        at=at,
        by="JV",
        recorded_at=at,
        revises=None,
        reason="",
        voided=False,
        point="muller_discharge",
        specs_hash=lab.specs.hash,
        source="simulated",
        note="",
        results=(result,),
    )


def timed(terminal: Terminal, keys: str, wanted: str) -> float:
    """Seconds from sending keys until a text is drawn."""
    terminal.forget()
    start = terminal.clock()
    terminal.type(keys)
    return terminal.sees(wanted) - start


def measured(terminal: Terminal, presses: Iterable[tuple[str, str]]) -> tuple[float, float]:
    """Median seconds from a key to its text, and seconds of processor time of a key."""
    before = terminal.spent()
    taken = [timed(terminal, key, wanted) for key, wanted in presses]
    return median(taken), (terminal.spent() - before) / len(taken)


def bare(folder: str, keys: int) -> tuple[float, float, float]:
    """Seconds of a key, its processor time, and seconds of a switch of screens in a bare app."""
    with Terminal(BARE, compiled=f"{folder}/compiled") as terminal:
        terminal.sees("bare one is up")
        key = measured(terminal, [(LEFT, f"key {number + 1} is drawn") for number in range(keys)])
        switch = []
        for _ in range(keys // 2):
            switch += [timed(terminal, F3, "bare two is up"), timed(terminal, F2, f"key {keys} is drawn")]
    return *key, median(switch)


def tool(folder: str) -> Terminal:
    """The tool on the filled plant."""
    return Terminal(TOOL, f"{folder}/plant", NOW.isoformat(), compiled=f"{folder}/compiled")


def long_chart(folder: str, count: int, keys: int) -> dict[str, tuple[float, float]]:
    """Seconds of cursor, pan and zoom with every test in memory."""
    with tool(folder) as terminal:
        terminal.sees("target")
        terminal.type(F3)
        terminal.sees("need attention")
        terminal.type("\r")
        terminal.sees("Enter")
        terminal.sees("\u2514")
        # Looking further back reads more tests, eight times as many each time, in the lab's thread.
        for wait in (1.0, 2.0, 10.0, 10.0):
            for _ in range(8):
                terminal.type("-")
                time.sleep(0.2)
            time.sleep(wait if count > BLOCK else 1.0)
        timed(terminal, "-", f"{taken_at(0, count).year}")
        whole = measured(terminal, cursor(count, range(1, keys + 1)))
        for _ in range(10):
            terminal.type("+")
            time.sleep(0.3)
        near = measured(terminal, cursor(count, range(keys + 1, 2 * keys + 1)))
        # The time line below the plot is drawn last.
        pans = measured(terminal, [("e", "\u2514")] * keys)
        zooms = measured(terminal, [(key, "\u2514") for key in "-+" * (keys // 2)])
    return {"cursor, all in view": whole, "cursor, a part in view": near, "pan": pans, "zoom": zooms}


def cursor(count: int, steps: range) -> list[tuple[str, str]]:
    """Keys to the tests before, each with the time that the read-out then names."""
    return [(LEFT, f"{taken_at(count - step, count):%d %b %Y %H:%M}") for step in steps]


def switches(folder: str, keys: int) -> float:
    """Median seconds of a switch between tests and charts."""
    with tool(folder) as terminal:
        terminal.sees("target")
        timed(terminal, F3, "need attention")
        found = []
        for _ in range(keys // 2):
            found += [timed(terminal, F2, "Green compression"), timed(terminal, F3, "need attention")]
    return median(found)
