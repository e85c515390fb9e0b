"""A half-typed set survives a kill, a lost terminal and a change of shift; nobody else's is touched."""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sandlab.lab.drafts import left
from sandlab.lab.rounds import sheet
from sandlab.lab.timing import take_up_timers
from tests.lab.conftest import Clock
from tests.screens.conftest import NOW, lab_of
from tests.screens.hand import Hand, opened, play

PATIENCE_S = 20.0


async def half(hand: Hand) -> None:
    """Three values of the hourly set; the cursor stands in the third field."""
    for text in ("41", "3,28", "158"):
        await hand.type(text)
        await hand.press("enter")


def test_what_was_typed_is_offered_with_age_and_initials_and_taken_up(plant: Path, clock: Clock) -> None:
    """The next shift takes it up 40 minutes later: the time it was begun is the time it was taken."""
    play(half, plant, clock=clock)
    later = Clock(NOW + timedelta(minutes=40))

    async def story(hand: Hand) -> None:
        assert "Half typed before, and not saved" in hand.text()
        assert "Hourly set, Muller discharge: 3 values, by AK" in hand.words()
        assert "Last typed at 13:07, 40 min ago." in hand.words()
        assert "compactability 41, moisture 3,28, green compression strength 158" in hand.words()
        await hand.press("f6")
        assert "Enter saves 3 values" in hand.text()
        assert "2026-03-04 13:07" in hand.text()
        await hand.press(*["enter"] * 7)
        assert "Saved: sample of 13:07, by SK" in hand.text()

    play(story, plant, clock=later, technician="SK")
    with lab_of(plant) as lab:
        (sample,) = sheet(lab, last=1).samples
        assert (sample.by, sample.taken_at) == ("SK", NOW)
        assert left(lab) == ()


def test_a_set_taken_up_at_once_keeps_the_time_it_was_begun(plant: Path, clock: Clock) -> None:
    """The box says so however short ago it was; the form may stay open for long afterwards."""
    play(half, plant, clock=clock)
    soon = Clock(NOW + timedelta(minutes=1))

    async def story(hand: Hand) -> None:
        await hand.press("f6")
        soon.move(minutes=30)
        await hand.press(*["enter"] * 7)
        assert "Saved: sample of 13:07, by SK" in hand.text()

    play(story, plant, clock=soon, technician="SK")


def test_readings_and_other_sets_are_taken_up_too(plant: Path, clock: Clock) -> None:
    async def begin(hand: Hand) -> None:
        await hand.press("down", "f6")
        for text in ("50", "48.4", "50", "48.36"):
            await hand.type(text)
            await hand.press("enter")
        assert "from readings" in hand.text()
        await hand.press("pagedown")
        while "Any test, outside the schedule" not in hand.text():
            await hand.press("pageup")
        await hand.type("40")
        await hand.press("enter")

    async def story(hand: Hand) -> None:
        await hand.press("f6")
        assert "Enter saves 1 value" in hand.text()
        assert "from readings" in hand.text()
        await hand.press(*["enter"] * 7)
        assert "Saved: sample of" in hand.text()
        await hand.press("enter")
        while "Any test, outside the schedule, Muller discharge" not in hand.text():
            await hand.press("pageup")
        assert re.search(r"Compactability +40 ", hand.text())

    play(begin, plant, clock=clock)
    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        stored = lab.store.samples("main", last=1)[0]
        assert len(lab.store.readings(stored.id, "moisture")) == 4


def test_a_digit_leaves_it_for_later_and_goes_into_the_form(plant: Path, clock: Clock) -> None:
    play(half, plant, clock=clock)

    async def story(hand: Hand) -> None:
        await hand.type("39")
        assert "Half typed before" not in hand.text()
        assert "Enter saves 1 value" in hand.text()
        await hand.press(*["enter"] * 7)
        assert "Saved" in hand.text()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        assert [one.by for one in left(lab)] == ["AK"]


def test_it_can_be_thrown_away_or_left_for_later(plant: Path, clock: Clock) -> None:
    play(half, plant, clock=clock)

    async def later(hand: Hand) -> None:
        await hand.press("escape")
        assert "nothing typed yet" in hand.text()

    async def throw(hand: Hand) -> None:
        await hand.press("f8")
        assert "nothing typed yet" in hand.text()

    play(later, plant, clock=clock)
    play(throw, plant, clock=clock)
    with lab_of(plant) as lab:
        assert left(lab) == ()


def test_it_stays_over_a_change_of_person_and_is_theirs_then(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await half(hand)
        await hand.press("f5")
        await hand.type("sk")
        await hand.press("enter")
        assert "SK F5" in hand.text()
        assert "Enter saves 3 values" in hand.text()
        words = "Half typed by AK since 13:07; saved, it stands beside SK. Type when it was taken."
        assert words in hand.words()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        assert [one.by for one in left(lab)] == ["SK"]


def test_two_terminals_do_not_see_each_other(plant: Path, clock: Clock) -> None:
    """While one types, a second one opened on the plant is offered nothing, and both save."""

    async def first(hand: Hand) -> None:
        await half(hand)
        async with opened(plant, clock=clock) as other:
            assert "Half typed before" not in other.text()
            await half(other)
            with lab_of(plant) as lab:
                assert left(lab) == ()
        with lab_of(plant) as lab:
            assert len(left(lab)) == 1
        await hand.press(*["enter"] * 4)
        assert "Saved" in hand.text()

    play(first, plant, clock=clock)
    with lab_of(plant) as lab:
        assert len(left(lab)) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
@pytest.mark.parametrize("end", [signal.SIGKILL, signal.SIGHUP])
def test_a_killed_or_cut_off_terminal_loses_no_field_that_was_left(empty: Path, end: signal.Signals) -> None:
    """kill -9, and a terminal that hangs up: the real program in its own terminal; Ctrl+R times drying."""
    master, slave = pty.openpty()
    command = [sys.executable, "-m", "sandlab", "--plant", str(empty)]
    environment = os.environ | {"TERM": "xterm-256color", "LINES": "24", "COLUMNS": "80"}
    tool = subprocess.Popen(
        command, stdin=slave, stdout=slave, stderr=slave, env=environment, start_new_session=True
    )
    try:
        _wait_for(master, "never tested here")
        os.write(master, b"41\r\x123.28\r1")
        _wait_until_kept(empty, "3.28", master)
        tool.send_signal(end)
        tool.wait(PATIENCE_S)
    finally:
        tool.kill()
        os.close(slave)
        os.close(master)
    with lab_of(empty, datetime.now(UTC)) as lab:
        (found,) = left(lab)
        assert [one.text for one in found.sets[0].entries][:2] == ["41", "3.28"]
        (timer,) = take_up_timers(lab).running
        assert (timer.property, timer.seconds) == ("moisture", 3600)
        assert timedelta() < lab.now() - timer.started < timedelta(seconds=2 * PATIENCE_S)


def _wait_for(master: int, words: str) -> None:
    """Read what is drawn until these words come."""
    end, drawn = time.monotonic() + PATIENCE_S, ""
    while words not in drawn:
        assert time.monotonic() < end, drawn
        if select.select([master], [], [], 0.2)[0]:
            drawn += os.read(master, 65536).decode(errors="replace")


def _wait_until_kept(folder: Path, text: str, master: int) -> None:
    """Until this text stands in a kept file."""
    end = time.monotonic() + PATIENCE_S
    while not any(text in path.read_text() for path in (folder / "drafts").glob("*.draft")):
        assert time.monotonic() < end, "nothing is kept"
        if select.select([master], [], [], 0.05)[0]:
            os.read(master, 65536)
