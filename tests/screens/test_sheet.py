"""The sheet by keys: yesterday at a glance, a remark, a repeat, and how a value came about."""

from __future__ import annotations

from pathlib import Path

from sandlab.lab.rounds import sheet
from tests.lab.conftest import Clock
from tests.screens.conftest import PLANT, lab_of
from tests.screens.hand import Hand, play


def test_yesterday_and_back_with_the_page_keys(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f8", "pagedown")
        assert "Yesterday, Tue 03 Mar 2026: 39 samples by JV, SK" in hand.text()
        assert "Tue 03 Mar" in hand.text()
        await hand.press("pagedown", "pagedown")
        assert "Sun 01 Mar 2026: no sample." in hand.text()
        await hand.press("pageup", "pageup", "pageup")
        assert "Today, Wed 04 Mar 2026" in hand.text()
        await hand.press("pageup")
        assert "Today" not in hand.text()
        assert "04 Mar 12:07" in hand.text()

    play(story, plant, clock=clock)


def test_a_day_is_judged_by_the_targets_of_then_and_says_so_in_whole_words(plant: Path, clock: Clock) -> None:
    """Today's tolerance would leave every value outside; none was, and no word is broken at the edge."""
    target = (
        "[systems.main.targets.compactability]\ntarget = 50.0\ntolerance = 0.5\nreaction = [49.0, 51.0]\n"
    )
    (plant / "specs" / "system.toml").write_text(PLANT + target, encoding="utf-8")

    async def story(hand: Hand) -> None:
        await hand.press("f8", "pagedown", "pagedown")
        assert "Judged by the targets in force then; today others hold for compactability." in hand.words()
        assert "6 samples by JV; every value in tolerance." in hand.words()

    play(story, plant, clock=clock)


def test_a_remark_stands_under_its_value(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("f8", "f8")
        assert "Remark on Compactability" in hand.text()
        await hand.type("tube was dirty")
        await hand.press("enter")
        assert "Remark by AK: tube was dirty" in hand.text()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        (comment,) = sheet(lab, last=1).samples[0].comments
    assert (comment.property, comment.by) == ("compactability", "AK")


def test_a_test_is_repeated_from_the_sheet(plant: Path, clock: Clock) -> None:
    """Back in the form, the cursor in the field, and the note says what is repeated."""

    async def story(hand: Hand) -> None:
        await hand.press("f8", "right", "plus")
        assert "repeat of moisture of 12:07" in hand.text()
        await hand.type("3.21")
        await hand.press(*["enter"] * 6)
        assert "Saved" in hand.text()

    play(story, plant, clock=clock)
    with lab_of(plant) as lab:
        (sample,) = sheet(lab, last=1).samples
    assert sample.note == "repeat of moisture of 12:07"
    assert {one.property: one.text for one in sample.results}["moisture"] == "3.21"


def test_how_a_value_came_about(plant: Path, clock: Clock) -> None:
    async def story(hand: Hand) -> None:
        await hand.press("down", "f6")
        for text in ("50", "48.4", "50", "48.36"):
            await hand.type(text)
            await hand.press("enter")
        await hand.press(*["enter"] * 5, "escape", "f8", "up", "right", "asterisk")
        words = hand.words()
        assert "Saved as 3.24 by AK, 13:07; computed from what is kept it is the same again" in words
        assert "Moisture, drying oven; formula moisture." in words
        assert "Dry sand 48.36 g repeat 2" in words

    play(story, plant, clock=clock)
