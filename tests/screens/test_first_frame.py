"""The first frame waits for nothing heavy, and no key typed before or after it is lost."""

from __future__ import annotations

import asyncio
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from textual import events

from sandlab.lab.rounds import due
from sandlab.screens import forms
from sandlab.screens.app import SandlabApp
from tests.lab.conftest import Clock
from tests.screens.hand import Hand
from tests.screens.test_hourly_round import newest

HEAVY = {"pydantic", "sqlalchemy", "numpy", "polars", "scipy"}
CHILD = """
import sys
from pathlib import Path
from textual import events
from sandlab.screens.app import SandlabApp

class Stopping(SandlabApp):
    def begin(self):
        self.post_message(events.Key("4", "4"))
        self.call_later(self.call_after_refresh, self.report)

    def report(self):
        text = "|".join("".join(s.text for s in strip) for strip in self.screen._compositor.render_strips())
        self.exit((text, self.focused.value))

text, value = Stopping(Path(sys.argv[1])).run(headless=True, size=(80, 24))
print(" ".join({name.partition(".")[0] for name in sys.modules}))
print(value)
print(text)
"""


def test_a_process_stopped_at_the_first_frame_has_loaded_nothing_heavy(tmp_path: Path) -> None:
    """The frame has the hourly set's labelled fields, and a digit typed into it lands."""
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(tmp_path)], capture_output=True, text=True, check=True, timeout=60
    )
    modules, value, text = done.stdout.split("\n")[:3]
    assert "textual" in modules.split()
    assert not set(modules.split()) & HEAVY
    assert value == "4"
    for label in ("Compactability", "Moisture", "Green compression strength", "Sand temperature"):
        assert label in text


def test_keys_typed_before_the_first_frame_reach_their_fields(plant: Path, clock: Clock) -> None:
    """Enter arrives as a line feed when the terminal was not yet taken over."""

    async def story() -> None:
        app = SandlabApp(plant, clock=clock, warm=False, technician="AK", glyphs="full")
        for key in ("4", "1", "ctrl+j", "3", "comma", "3"):
            app.post_message(events.Key(key, "," if key == "comma" else None))
        async with app.run_test(size=(80, 24)) as pilot:
            hand = Hand(app, pilot)
            await hand.settle()
            assert "Enter saves 2 values" in hand.text()
            assert "3,3 " in hand.text()

    asyncio.run(story())


def test_keys_typed_while_the_records_open_are_kept_and_judged_later(
    plant: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The screen takes keys while the lab's thread is busy; the judgement follows when it answers."""
    release = threading.Event()

    def slow(lab: object) -> object:
        release.wait(20)
        return due(lab)  # type: ignore[arg-type]

    monkeypatch.setattr(forms, "fetch_due", slow)

    async def story() -> None:
        app = SandlabApp(plant, clock=clock, warm=False, technician="AK", glyphs="full")
        async with app.run_test(size=(80, 24)) as pilot:
            hand = Hand(app, pilot)
            for key in ("4", "1", "enter", "5"):
                app.post_message(events.Key(key, None))
            await hand.until("Enter saves 2 values", within_s=10)
            assert "opening the records; you can type already" in hand.text()
            assert "in tolerance" not in hand.text()
            release.set()
            await hand.settle()
            assert "in tolerance" in hand.text()
            assert "doubtful" not in hand.text().split("Moisture")[0]

    asyncio.run(story())


def test_a_set_saved_before_the_records_are_open_is_saved_once_they_are(
    plant: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Typed, saved and signed while the lab's thread is busy."""
    release = threading.Event()

    def slow(lab: object) -> object:
        release.wait(20)
        return due(lab)  # type: ignore[arg-type]

    monkeypatch.setattr(forms, "fetch_due", slow)

    async def story() -> None:
        app = SandlabApp(plant, clock=clock, warm=False, glyphs="full")
        async with app.run_test(size=(80, 24)) as pilot:
            hand = Hand(app, pilot)
            for key in ("4", "1", *["enter"] * 7, "R", "M", "enter"):
                app.post_message(events.Key(key, None))
            await hand.until("Saved as soon as the records are open.", within_s=10)
            release.set()
            await hand.settle()
            assert "Saved: sample of 13:07, by RM" in hand.text()

    asyncio.run(story())
    assert newest(plant)["compactability"] == 41.0
