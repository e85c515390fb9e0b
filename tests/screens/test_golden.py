"""Screens as plain text at 80x24 and 120x40; REWRITE_GOLDEN=1 writes them: read them before committing."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from sandlab.lab.charting import chart, overview
from sandlab.lab.facts import ChartFacts, OverviewFacts, PropertyFacts
from sandlab.lab.opening import Lab
from tests.lab.conftest import Clock
from tests.screens.hand import Hand, play

FOLDER = Path(__file__).parent / "golden"
SIZES = [(80, 24), (120, 40)]
REDRAWS = 5


async def compare(name: str, size: tuple[int, int], hand: Hand) -> None:
    """Hold a screen against its file; what is still being drawn is given time."""
    path = FOLDER / f"{name}_{size[0]}x{size[1]}.txt"
    if os.environ.get("REWRITE_GOLDEN"):
        for _ in range(REDRAWS):
            await hand.settle()
        path.write_text(hand.text() + "\n", encoding="utf-8")
    wanted = path.read_text(encoding="utf-8").splitlines()
    for _ in range(REDRAWS):
        if boxed(hand, hand.text().splitlines()) == boxed(hand, wanted):
            return
        await hand.settle()
    assert boxed(hand, hand.text().splitlines()) == boxed(hand, wanted)


def boxed(hand: Hand, lines: list[str]) -> list[str]:
    """The lines of the box on top, else all: how much shines through beside a box depends on its moment."""
    for panel in hand.app.screen.query("#panel"):
        box = panel.region
        return [line.ljust(box.right)[box.x : box.right] for line in lines[box.y : box.bottom]]
    return lines


@pytest.fixture(autouse=True)
def plain_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """The charts' sentences have tests of their own; here they are held still."""

    def still(facts: ChartFacts | PropertyFacts) -> ChartFacts | PropertyFacts:
        return facts.model_copy(update={"words": f"{facts.label} in one sentence."})

    def still_chart(lab: Lab, property: str, **options: Any) -> object:
        return still(chart(lab, property, **options))

    def still_overview(lab: Lab) -> OverviewFacts:
        facts = overview(lab)
        return facts.model_copy(update={"properties": tuple(still(one) for one in facts.properties)})

    monkeypatch.setattr("sandlab.screens.chart_fetch.chart", still_chart)
    monkeypatch.setattr("sandlab.screens.charts_screen.overview", still_overview)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    ("name", "keys"),
    [
        ("tests", ("4", "2", "enter", "2", "full_stop", "9", "enter", "9", "9", "9")),
        ("sheet", ("f8",)),
        ("charts", ("f3",)),
        ("chart", ("f3", "enter", "left")),
        ("list", ("f3", "f8")),
        ("stacked", ("f3", "enter", "w", "m", "o", "i", "enter", "left")),
        ("relation", ("f3", "right", "enter", "r", "c", "o", "m", "enter", "left")),
        ("figures", ("f3", "enter", "enter")),
        ("ewma", ("f3", "enter", "f8")),
        ("muller", ("f4",)),
        ("override", ("f4", "f7")),
        ("batch", ("f4", "f8")),
        ("freeze", ("f3", "enter", "f6")),
        ("leave_out", ("f3", "enter", "left", "x")),
        ("event", ("f3", "enter", "f7")),
        ("zoomed", ("f3", "enter", "plus", "e")),
        ("keys", ("question_mark",)),
        ("readings", ("down", "f6", "5", "0", "enter", "4", "8", "enter")),
        ("advice", ("f7",)),
    ],
)
def test_screen(plant: Path, clock: Clock, name: str, keys: tuple[str, ...], size: tuple[int, int]) -> None:
    async def story(hand: Hand) -> None:
        for key in keys:
            await (hand.type(".") if key == "full_stop" else hand.press(key))
        await compare(name, size, hand)

    play(story, plant, size=size, clock=clock)


@pytest.mark.parametrize("size", SIZES)
def test_what_follows_from_a_saved_sample(plant: Path, clock: Clock, size: tuple[int, int]) -> None:
    async def story(hand: Hand) -> None:
        for text in ("30", "2.5", "150", "104", "155", "33"):
            await hand.type(text)
            await hand.press("enter")
        await hand.press("enter")
        await compare("saved", size, hand)
        await hand.press("enter", "f4")
        await compare("hold", size, hand)

    play(story, plant, size=size, clock=clock)


@pytest.mark.parametrize("size", SIZES)
def test_a_machine_that_runs(running: Path, clock: Clock, size: tuple[int, int]) -> None:
    """Good tests, additions released and set: RUN."""

    async def story(hand: Hand) -> None:
        await hand.press("f4", "f6")
        await compare("run", size, hand)

    play(story, running, size=size, clock=clock)


@pytest.mark.parametrize("size", SIZES)
def test_an_empty_plant(empty: Path, clock: Clock, size: tuple[int, int]) -> None:
    async def story(hand: Hand) -> None:
        await compare("empty_tests", size, hand)
        await hand.press("f3")
        await compare("empty_charts", size, hand)
        await hand.press("f4")
        await compare("empty_muller", size, hand)

    play(story, empty, size=size, clock=clock)
