"""A drift caught and handled by keys alone; a chart zoomed, panned, stacked, held against another one."""

from __future__ import annotations

import re
from pathlib import Path

from sandlab.lab.charting import chart
from sandlab.lab.leaving import left_out
from sandlab.records import Amendment, Baseline, Event
from tests.lab.conftest import Clock
from tests.screens.conftest import lab_of
from tests.screens.hand import Hand, play


def test_a_drift_is_caught_and_handled(plant: Path, clock: Clock) -> None:
    """Wall, first chart, words, signal, a test left out with its cause, an event, new limits."""

    async def story(hand: Hand) -> None:
        await hand.press("f3")
        first = hand.text().split("\n")
        assert "▶Compactability" in first[2]
        assert "◆ drifts down since" in first[6]
        assert "60 min" in first[6]
        await hand.press("enter")
        assert "Compactability has been drifting down since" in hand.words()
        assert "If nothing is done, 9 of 10 tests lie between" in hand.words()
        await hand.press("down", "up")
        assert "below the lower control limit" in hand.words()
        assert "Wed 04 Mar 2026 11:07" in hand.words()
        await hand.press("x")
        assert "out of limits" in hand.words()
        await hand.type("water valve stuck")
        await hand.press("enter")
        assert "left out of limits by AK: water valve stuck" in hand.words()
        assert "×" in hand.text()
        await hand.press("f7")
        assert "Event on the time line, at the cursor, Wed 04 Mar 11:07" in hand.words()
        await hand.type("valve changed")
        await hand.press("enter")
        assert "noted: valve changed (AK)" in hand.words()
        await hand.press("f6")
        assert "40 tests" in hand.words()
        assert "is left out of limits; leaves: by AK: water valve stuck" in hand.words()
        await hand.type("level after the new valve")
        await hand.press("enter")
        assert "frozen 04 Mar 2026 by AK" in hand.words()
        assert "left out" in hand.words()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        facts = chart(lab, "compactability")
        amendment = lab.store.records(Amendment, lab.system)[-1]
        event = lab.store.records(Event, lab.system)[-1]
        baseline = lab.store.records(Baseline, lab.system)[-1]
    odd = next(one for one in facts.points if one.sample == amendment.sample)
    assert (amendment.by, amendment.reason, amendment.result.value) == ("AK", "water valve stuck", odd.value)
    assert (event.at, event.by, event.text) == (odd.at, "AK", "valve changed")
    assert odd.sample in baseline.excluded
    assert (baseline.by, baseline.count) == ("AK", 40 - len(baseline.excluded))
    assert baseline.reason.startswith("level after the new valve; left out: 37 % is left out of limits")
    assert "by AK: water valve stuck" in baseline.reason


def test_a_test_left_out_counts_again_with_the_same_key(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter", "x")
        assert "Put the cursor on a test first" in hand.words()
        await hand.press("left")
        assert "Put the cursor on a test first" not in hand.words()
        await hand.press("x")
        await hand.type("scale drifting")
        await hand.press("enter", "x")
        assert "count again" in hand.words()
        await hand.type("scale was right")
        await hand.press("enter")
        assert "left out of limits" not in hand.words()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        assert not left_out(chart(lab, "compactability").points)
        assert len(lab.store.records(Amendment, lab.system, revised=True)) >= 2


def test_the_chart_is_zoomed_and_panned_in_time(plant: Path, clock: Clock) -> None:
    """A shorter time shows fewer tests; the freeze speaks of those in view; back out shows all again."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter", "plus", "plus")
        near = hand.text()
        await hand.press("f6")
        found = re.search(r"(\d+) tests", hand.words())
        assert found is not None
        assert 8 <= int(found[1]) <= 12
        await hand.press("escape", "e")
        assert hand.text() != near
        await hand.press("l")
        assert hand.text() == near
        await hand.press("minus", "minus", "minus", "f6")
        assert "40 tests" in hand.words()

    play(story, plant, clock=clock)


def test_the_cursor_starts_where_one_looks(plant: Path, clock: Clock) -> None:
    """Earlier days stay in view; Home and End still lead to the ends."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter", "plus", "plus", "e", "e", "e")
        before = hand.text().split("\n")
        await hand.press("left")
        after = hand.text().split("\n")
        assert re.search(r"0[23] Mar 2026 \d\d:07 \d\d %", hand.words())
        axis = next(place for place, line in enumerate(before) if "└" in line)
        assert before[axis:][:2] == after[axis:][:2]
        await hand.press("end")
        assert "Wed 04 Mar 2026 12:07" in hand.words()
        await hand.press("right", "home")
        assert "Mon 02 Mar 2026" in hand.words()

    play(story, plant, clock=clock)


def test_two_properties_share_the_time_line(plant: Path, clock: Clock) -> None:
    """Chosen by letters; the cursor reads both; the same key takes the second one away."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter", "w")
        assert "With which property on the same time line?" in hand.words()
        await hand.type("moi")
        await hand.press("enter")
        lines = hand.text().split("\n")
        assert sum("Moisture [%]" in line or "Compactability [%]" in line for line in lines) == 2
        await hand.press("left")
        assert "34 %, moisture 2." in hand.words()
        await hand.press("w")
        assert "Moisture [%]" not in hand.text()

    play(story, plant, size=(120, 40), clock=clock)


def test_two_properties_against_each_other(plant: Path, clock: Clock) -> None:
    """Words first; the cursor goes through the tests in time; Esc leads back to the chart."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "right", "enter", "r")
        await hand.type("compac")
        await hand.press("enter")
        assert "Moisture moves by 0.0" in hand.words()
        assert "line from 31 tests" in hand.words()
        await hand.press("left")
        assert "Wed 04 Mar 2026 12:07 moisture" in hand.words()
        assert re.search(r"(in|above|below) the band", hand.words())
        await hand.press("home")
        assert "one of the baseline" in hand.words()
        await hand.press("escape")
        assert "Moisture [%]" in hand.text()

    play(story, plant, clock=clock)


def test_the_cursor_leaves_beyond_the_newest_test(plant: Path, clock: Clock) -> None:
    """Then events are noted for now again, and the words speak of what comes."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "enter", "left", "right")
        assert "If nothing is done" in hand.words()
        await hand.press("f7")
        assert "Event on the time line, now" in hand.words()

    play(story, plant, clock=clock)


def test_wall_and_list_show_the_same_properties(plant: Path, clock: Clock) -> None:
    """The cursor stays on its property; every property is reached by paging down."""

    async def story(hand: Hand) -> None:
        await hand.press("f3", "right", "down")
        assert "▶" in hand.text()
        chosen = re.search(r"▶([A-Za-z: -]+?)  ", hand.text())
        assert chosen is not None
        assert "29 properties, 3 need attention, 23 more below" in hand.text()
        await hand.press("f8")
        assert chosen[1][:20] in hand.text()
        assert "10 more below" in hand.text()
        await hand.press("f8")
        assert "23 more below" in hand.text()
        assert f"▶{chosen[1]}" in hand.text()
        await hand.press("end")
        assert "more below" not in hand.text()
        await hand.press("home")
        assert "▶Compactability" in hand.text()

    play(story, plant, clock=clock)
