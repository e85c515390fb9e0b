"""The engineer: overview, one chart with its cursor, limits frozen and events noted from it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from textual import events

from sandlab.lab.charting import chart
from sandlab.lab.facts import FiguresFacts
from sandlab.lab.figures import Behind
from sandlab.screens.wall import Wall
from tests.lab.conftest import Clock
from tests.screens.conftest import NOW, lab_of
from tests.screens.hand import Hand, play


def test_the_overview_starts_with_what_needs_attention(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f3")
        lines = hand.text().split("\n")
        assert "need attention" in lines[1]
        assert "▶Compactability" in lines[2]
        assert "◆ drifts down since" in lines[6]
        await hand.press("f8")
        lines = hand.text().split("\n")
        assert "◆ signal" in lines[2] or "■ past reaction limit" in lines[2]
        assert "Compactability" in lines[2]

    play(story, plant, clock=clock)


def test_enter_before_the_charts_are_read_opens_the_first_one(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f3")
        wall = hand.app.screen.query_one(Wall)
        tiles = wall.tiles
        wall.fill(())
        await hand.press("enter")
        assert "frozen 04 Mar 2026" not in hand.words()
        wall.fill(tiles)
        await hand.settle()
        assert "frozen 04 Mar 2026" in hand.words()

    play(story, plant, clock=clock)


def test_a_chart_says_its_state_first_and_reads_out_each_test(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter")
        assert "frozen 04 Mar 2026 by MO from 31 tests" in hand.words()
        assert "quiet after the overhaul" in hand.words()
        await hand.press("left")
        assert "Wed 04 Mar 2026 12:07 34 %" in hand.words()
        await hand.press("left")
        assert "Wed 04 Mar 2026 11:07" in hand.words()
        await hand.press("home")
        assert "Mon 02 Mar 2026" in hand.words()
        await hand.press("up")
        await hand.press("escape")
        assert "need attention" in hand.text()

    play(story, plant, clock=clock)


def test_limits_are_frozen_from_the_tests_shown(plant: Path, clock: Clock) -> None:
    """With who and why; the window is what the chart shows."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter", "f6")
        assert "40 tests" in hand.words()
        await hand.type("new muller ploughs")
        await hand.press("enter")
        assert "by AK from 40 tests" in hand.words()
        assert "new muller ploughs" in hand.words()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        baseline = chart(lab, "compactability").baseline
    assert baseline is not None
    assert (baseline.frozen_by, baseline.reason, baseline.count) == ("AK", "new muller ploughs", 40)


def test_an_event_is_noted_on_the_time_line(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter", "f7")
        await hand.type("belt wet")
        await hand.press("enter")
        assert "◆" in hand.text()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        noted = chart(lab, "compactability").events[-1]
    assert (noted.text, noted.by, noted.at) == ("belt wet", "AK", NOW)


def test_a_property_without_limits_says_what_to_do(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter")
        for _ in range(30):
            if "No limits are frozen" in hand.words():
                return
            await hand.press("pagedown")
        raise AssertionError(hand.text())

    play(story, plant, clock=clock)


def test_an_empty_plant_is_told_what_comes_first(empty: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        assert "Hourly set" in hand.text()
        await hand.press("f3")
        assert "No test is recorded yet" in hand.text()
        assert "First: F2, log the hourly set" in hand.words()
        await hand.press("enter")
        assert "No test of it is recorded yet" in hand.words()

    play(story, empty, clock=clock)


def test_one_key_shows_the_same_tests_on_other_charts(plant: Path, clock: Clock) -> None:
    """Each kind has its words; after the last one the single tests come back."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter")
        assert "drifting down since" in hand.words()
        assert "one false alarm every" in hand.words()
        for words in ("Moving average (EWMA)", "Sums of departures", "Differences from", "Limits widened"):
            await hand.press("f8")
            assert words in hand.words()
        await hand.press("left")
        assert "here" in hand.words()
        await hand.press("f8")
        assert "frozen 04 Mar 2026 by MO" in hand.words()

    play(story, plant, clock=clock)


def test_the_figures_are_one_key_away_and_lead_to_new_limits(plant: Path, clock: Clock) -> None:
    """Section by section; F6 proposes the latest quiet stretch and keeps who and why."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "right", "right", "right", "enter", "enter")
        assert "Figures behind Green compression strength" in hand.words()
        assert "Frozen" in hand.words()
        seen = hand.words()
        for _ in range(8):
            await hand.press("pagedown")
            seen += hand.words()
        for heading in ("Drift", "Fit to the tolerance", "Over-correction", "Rules that alarm"):
            assert heading in seen
        await hand.press("f6")
        assert "Freeze limits of Green compression strength" in hand.words()
        await hand.type("latest stretch")
        await hand.press("enter")

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        baseline = chart(lab, "green_compression_strength").baseline
    assert baseline is not None
    assert (baseline.frozen_by, baseline.reason) == ("AK", "latest stretch")


def test_the_hourly_set_has_its_own_chart(plant: Path, clock: Clock) -> None:
    """From the overview; it names what was odd, and says why it has no limits of its own."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "right", "right", "enter")
        assert "Odd together" in hand.words()
        await hand.press("f6")
        assert "freeze those over one window" in hand.words()
        await hand.press("f8")
        assert "moving averages" in hand.words()

    play(story, plant, clock=clock)


def test_long_work_can_be_left_and_keys_go_on(plant: Path, clock: Clock) -> None:
    """Figures say how far they are; Esc ends the work at its next step, and nothing is said to be wrong."""
    steps: list[float] = []
    here = threading.get_ident()
    asked, going = threading.Event(), threading.Event()

    def slow(behind: Behind, *, step: Callable[[float], None]) -> FiguresFacts:
        assert threading.get_ident() != here
        step(0.4)
        asked.set()
        going.wait(20.0)
        steps.append(0.4)
        step(0.8)
        raise AssertionError("it went on")

    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter")
        hand.app.post_message(events.Key("enter", None))
        await hand.until("working it out: 40 %", within_s=20.0)
        hand.app.post_message(events.Key("escape", None))
        while hand.app.screen.query("#panel"):
            await hand.pilot.pause(0.01)
        going.set()
        await hand.press("left")
        assert "12:07" in hand.text()
        assert "did not work" not in hand.text()
        assert asked.is_set()
        assert steps == [0.4]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sandlab.lab.figures.figures_of", slow)
        play(story, plant, clock=clock)
